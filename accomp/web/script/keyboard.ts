// The desk's keyboard: the practice page's keys where nothing is typed, and play everywhere.

import type { Desk } from "./desk";
import { part } from "./dom";

export function listen(desk: Desk): void {
  desk.words.field.addEventListener("beforeinput", (event) => {
    if (event.inputType === "historyUndo") {
      event.preventDefault();
      void desk.undo();
    }
  });
  document.addEventListener("keydown", (event) => {
    const target = event.target as HTMLElement;
    const command = event.ctrlKey || event.metaKey;
    if (command && event.key === "Enter") {
      event.preventDefault();
      return desk.toggle();
    }
    if (command && event.key.toLowerCase() === "z" && target === desk.words.field) {
      event.preventDefault();
      if (event.shiftKey) part("redo").click();
      else void desk.undo();
      return;
    }
    // Many keyboards write brackets with AltGr or Option.
    const bracket = event.altKey && (event.key === "[" || event.key === "]");
    if (((command || event.altKey) && !bracket) || target.matches("input, select, textarea")) return;
    // What has the focus is pressed by the space bar, and arrows are the bars'.
    if (target.matches("button, summary, a") && (event.key === " " || event.key.startsWith("Arrow"))) return;
    if (act(desk, event.key, event.shiftKey)) event.preventDefault();
  });
}

/** The practice page's keys, where nothing is typed. */
function act(desk: Desk, key: string, shift: boolean): boolean {
  if (!desk.tune) return false;
  const here = Math.max(0, desk.bars.marked ?? 0);
  const loop = desk.hearing.loop;
  switch (key) {
    case " ": desk.toggle(); return true;
    case "ArrowRight": desk.foot.faster(shift ? 10 : 1); return true;
    case "ArrowLeft": desk.foot.faster(shift ? -10 : -1); return true;
    case "[": desk.bars.loop([here, Math.max(here, loop?.[1] ?? here)]); return true;
    case "]": desk.bars.loop([Math.min(here, loop?.[0] ?? desk.hearing.first), here]); return true;
    case "0": desk.bars.loop(null); return true;
    case "?": {
      const keys = part<HTMLDetailsElement>("keys");
      keys.open = !keys.open;
      if (keys.open) keys.scrollIntoView({ block: "end" });
      return true;
    }
  }
  return false;
}
