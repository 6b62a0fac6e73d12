// What a click on a bar means: where it begins, or between which bars it goes round.
//
// Conventions: at rest a first click chooses the beginning and a second one the other end of a
// loop. While it plays, a click goes there at once, and closes a loop only while the bar that was
// clicked before, or the next one, still sounds: who clicks later wants to hear that bar.

export interface Choice {
  chosen: number | null; // the bar from which it begins
  loop: [number, number] | null;
  open: boolean; // a click while it plays closes a loop
}

export interface Clicked extends Choice {
  jump: boolean; // play goes on from the bar that was clicked
}

/** What is chosen after a click on a bar. */
export function clicked(bar: number, before: Choice, playing: boolean): Clicked {
  const { chosen, loop, open } = before;
  const inside = loop !== null && bar >= loop[0] && bar <= loop[1];
  if (playing && inside) return { chosen: null, loop, open: false, jump: true };
  if (chosen !== null && loop === null && (open || !playing)) {
    const round: [number, number] = [Math.min(bar, chosen), Math.max(bar, chosen)];
    return { chosen: null, loop: round, open: false, jump: false };
  }
  return { chosen: bar, loop: null, open: playing, jump: playing };
}

/** Whether a loop can still be closed by a click, now that a bar sounds. */
export function stillOpen(choice: Choice, bar: number): boolean {
  const { chosen, open } = choice;
  return open && chosen !== null && bar >= chosen && bar <= chosen + 1;
}

/** The beginning that is chosen, in words; "" where none is. */
export function chosenWords({ chosen, open }: Choice, playing: boolean): string {
  if (chosen === null) return "";
  return `from bar ${chosen + 1}${open || !playing ? "; choose the last one to loop" : ""}`;
}
