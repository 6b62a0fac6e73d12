// The neck: the positions side by side; a chord's other shapes open where it stands.

import { ask, type ChordBox, type Others, type Placed, type PositionRow } from "./ask";
import { chordBox } from "./box";
import { make, part, write } from "./dom";

const TIMES = ["", "once", "twice", "three times", "four times", "five times", "six times"];

export interface NeckWishes {
  /** What a question about the tune is about. */
  question(): Record<string, unknown>;
  /** The position that is heard, "" for the one to learn first. */
  chosen: string;
  leftHanded: boolean;
  choose(position: string): void;
  pin(chord: string, frets: string | null): void;
  mayPin(): string; // why not, "" where one may
}

export class NeckSheet {
  private placed: Placed | null = null;
  private drawn = "";
  private asked = ""; // the position and chord whose other shapes are open
  private others: Others | null = null;

  constructor(private readonly wishes: NeckWishes) {}

  show(placed: Placed): void {
    this.placed = placed;
    write(part("neck-notices"), placed.notices.join(" "));
    this.draw();
  }

  draw(): void {
    const placed = this.placed;
    if (!placed) return;
    const { chosen, leftHanded } = this.wishes;
    const scene = JSON.stringify([placed, chosen, leftHanded, this.asked, this.others]);
    if (scene === this.drawn) return;
    this.drawn = scene;
    const focus = (document.activeElement as HTMLElement | null)?.dataset.focus;
    const heard = chosen || placed.first;
    part("positions").replaceChildren(...placed.positions.map((one) => this.position(one, heard)));
    if (focus) this.focus(focus);
  }

  /** Back to what had the keyboard; where a pinned shape has moved every position, to its chord. */
  private focus(focus: string): void {
    const positions = part("positions");
    const there = positions.querySelector<HTMLElement>(`[data-focus="${CSS.escape(focus)}"]`);
    const chord = CSS.escape(this.others?.chord ?? "");
    (there ?? positions.querySelector<HTMLElement>(`[data-chord="${chord}"]`))?.focus();
  }

  private position(one: PositionRow, heard: string): HTMLElement {
    const open = one.open ? "open strings" : "closed, can be choked and slid";
    const [low, high] = one.frets;
    const facts = `frets ${low} to ${high} · ${open} · widest stretch ${one.stretch_mm} mm`;
    const learn = one.new ? `${one.new} ${one.new === 1 ? "shape" : "shapes"} to learn` : "nothing new to learn";
    const mine = one.name === heard;
    const hear = make(
      "button",
      { type: "button", class: "hear", "aria-pressed": mine ? "true" : "false", "data-focus": `hear ${one.name}` },
      mine ? "this one is heard" : "hear this one",
    );
    hear.addEventListener("click", () => this.wishes.choose(one.name));
    const hardest = one.hardest.map((change) =>
      make("li", {}, make("span", { class: "change" }, `${change.from} → ${change.to}`), ` ${change.words}`),
    );
    return make(
      "article",
      { class: mine ? "position heard" : "position", "data-position": one.name },
      make("h3", {}, one.name),
      make("p", { class: "label" }, facts),
      make("div", { class: "boxes" }, ...one.boxes.map((box) => this.box(box, one))),
      ...(this.asked.startsWith(`${one.name} `) ? [this.open(one)] : []),
      make("p", {}, `${learn}. The hardest changes:`),
      make("ol", { class: "hardest" }, ...hardest),
      ...one.notices.map((notice) => make("p", { class: "label" }, notice)),
      make("p", {}, hear),
    );
  }

  private box(box: ChordBox, one: PositionRow): HTMLElement {
    const marks = [
      TIMES[box.times] ?? `${box.times} times`, box.pinned ? "pinned" : "", box.new ? "new" : "", box.wide ? "wide" : "",
    ];
    const asked = `${one.name} ${box.chord}`;
    const button = make(
      "button",
      {
        type: "button", class: "chord-of", "aria-expanded": this.asked === asked ? "true" : "false",
        "data-chord": box.chord, "data-focus": asked, title: `other shapes of ${box.text}`,
      },
      make("span", { class: "name" }, box.text),
      chordBox(box.shape, box.said, this.wishes.leftHanded),
      make("span", { class: "label" }, marks.filter(Boolean).join(", ")),
    );
    button.addEventListener("click", () => void this.ask(asked, box.chord));
    return button;
  }

  private async ask(asked: string, chord: string): Promise<void> {
    if (this.asked === asked) return this.close();
    this.asked = asked;
    this.others = null;
    try {
      const found = await ask<Others>("POST", "/api/others", { ...this.wishes.question(), chord });
      if (this.asked === asked) this.others = found;
    } catch {
      this.asked = ""; // the text says what is wrong with it
    }
    this.draw();
    part("positions").querySelector(".others button")?.scrollIntoView({ block: "nearest" });
  }

  /** Show no other shapes. */
  close(): void {
    this.asked = "";
    this.others = null;
    this.draw();
  }

  private open(one: PositionRow): HTMLElement {
    const others = this.others;
    if (others === null) return make("div", { class: "others" });
    const box = one.boxes.find((each) => `${one.name} ${each.chord}` === this.asked);
    const taken = box?.shape.frets.map((fret) => fret ?? "x").join(" ");
    const why = this.wishes.mayPin();
    const shapes = others.shapes.map((each, place) => {
      const pinned = box?.pinned === true && each.frets === taken;
      const words = pinned ? "let go" : each.frets === taken ? "keep this one" : "pin this one";
      const button = make(
        "button",
        { type: "button", class: "pin", disabled: why !== "", "data-frets": each.frets, "data-focus": `pin ${place}` },
        chordBox(each.shape, each.frets, this.wishes.leftHanded),
        make("span", { class: "label" }, `${each.top} on top · ${each.stretch_mm} mm`),
        make("span", {}, words),
      );
      button.addEventListener("click", () => this.wishes.pin(others.chord, pinned ? null : each.frets));
      return button;
    });
    const close = make("button", { type: "button", class: "close", "data-focus": "close" }, "close");
    close.addEventListener("click", () => this.close());
    const heading = `Other shapes of ${others.text}, the best ${others.shapes.length} of ${others.of}. A pinned one is kept in every position.`;
    return make("div", { class: "others" }, make("p", {}, `${heading} ${why}`), make("div", { class: "boxes" }, ...shapes), close);
  }
}
