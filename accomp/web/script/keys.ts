// The keyboard: everything without a mouse. The list of keys is shown on `?`.

import { part } from "./dom";
import type { Page } from "./main";

export function listen(page: Page): void {
  document.addEventListener("keydown", (event) => {
    // Many keyboards write brackets with AltGr or Option.
    const bracket = event.altKey && (event.key === "[" || event.key === "]");
    if (event.metaKey || event.defaultPrevented) return;
    if ((event.ctrlKey || event.altKey) && !bracket) return;
    if (part<HTMLDialogElement>("help").open) return;
    const target = event.target as HTMLElement;
    const typing = target.matches("input, select, textarea");
    // A button that has the focus is pressed by the space bar, as everywhere; a bar by Enter.
    if (event.key === " " && (typing || target.matches("button:not(.bar), summary, a"))) return;
    if (typing && !(target as HTMLInputElement).matches("[type=checkbox]")) return;
    // A key held down does its work once, but for the arrows.
    if (event.repeat && !event.key.startsWith("Arrow")) {
      if (event.key === " ") event.preventDefault();
      return;
    }
    if (act(page, event.key, event.shiftKey)) event.preventDefault();
  });
}

function act(page: Page, key: string, shift: boolean): boolean {
  const { settings, chart, foot } = page;
  const here = chart.marked >= 0 ? chart.marked : (chart.focusedBar ?? page.first);
  switch (key) {
    case " ": page.toggle(); return true;
    case "ArrowRight": foot.faster(shift ? 10 : 1); return true;
    case "ArrowLeft": foot.faster(shift ? -10 : -1); return true;
    case "ArrowUp": foot.faster(5); return true;
    case "ArrowDown": foot.faster(-5); return true;
    case "[": page.change({ loop: [here, Math.max(here, settings.loop?.[1] ?? here)] }); return true;
    case "]": page.change({ loop: [Math.min(here, settings.loop?.[0] ?? page.first), here] }); return true;
    case "0": page.chosen = null; page.change({ loop: null }); return true;
    case "b": page.change({ boxes: !settings.boxes }); return true;
    case "n": page.change({ numbers: !settings.numbers }); return true;
    case "s": page.change({ say: !settings.say }); return true;
    case "l": page.change({ leftHanded: !settings.leftHanded }); return true;
    case "k": foot.nextKey(); return true;
    case "m": foot.more(); return true;
    case "?": foot.help(); return true;
    case "Escape": foot.more(false); return true;
  }
  const number = Number(key);
  if (key.length === 1 && number >= 1 && number <= 9) {
    foot.position(number - 1);
    return true;
  }
  return false;
}
