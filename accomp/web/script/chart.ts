// The chart: the tune's bars in the order they are played, each a place to click.

import { make } from "./dom";
import type { Bar, KeyPart } from "./timeline";

const TIMES = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth"];
const WIDE: Record<string, number> = { m: 0.82, M: 0.85, "♭": 0.5, "♯": 0.55, "/": 0.4 };
const BETWEEN = 0.55; // ems between two chords of a bar
const SMALLEST = 0.62; // of the usual size; where it would be less, a row has half as many bars

export type Called = "text" | "number";

/** What the chart has to know of a tune: its bars in order, and where sections begin. */
export interface Charted {
  bars: Pick<Bar, "chorus" | "section" | "opens">[];
}

export class Chart {
  private readonly bars: HTMLButtonElement[] = [];
  private current = -1;
  private focused = 0;
  private emsOf: number[] = [];
  private looped: [number, number] | null = null;

  constructor(
    private readonly root: HTMLElement,
    private readonly timeline: Charted,
    private readonly onBar: (bar: number) => void,
  ) {
    this.build();
    root.addEventListener("keydown", (event) => this.walk(event));
    new ResizeObserver(() => this.fit()).observe(root);
  }

  private build(): void {
    const { bars } = this.timeline;
    const choruses = new Set(bars.map((bar) => bar.chorus).filter((chorus) => chorus > 0)).size;
    let line: HTMLElement | null = null;
    bars.forEach((bar, index) => {
      const newChorus = bar.chorus > 0 && bar.chorus !== bars[index - 1]?.chorus;
      if (newChorus && choruses > 1) {
        const words = TIMES[bar.chorus - 1] ? `${TIMES[bar.chorus - 1]} time` : `time ${bar.chorus}`;
        this.root.append(make("p", { class: "chorus label" }, words));
      }
      if (bar.opens || line === null || newChorus) {
        line = make("div", { class: "bars" });
        const long = bar.section.length > 2 ? " named" : "";
        const section = make("div", { class: `section${long}` });
        section.append(make("p", { class: "label", dir: "auto" }, bar.section), line);
        if (bar.chorus === 0 && bars[index - 1]?.chorus) section.classList.add("after");
        this.root.append(section);
      }
      const button = make("button", { class: "bar", type: "button", tabindex: index ? -1 : 0 });
      if (bar.opens) button.classList.add("first");
      if (bars[index + 1]?.opens ?? true) button.classList.add("last");
      button.addEventListener("click", () => {
        this.focus(index, false);
        this.onBar(index);
      });
      button.addEventListener("focus", () => this.focus(index, false));
      this.bars.push(button);
      line.append(button);
    });
  }

  /** Put in the chords of a key, by name or by number. */
  name(key: Pick<KeyPart, "chords" | "bars">, called: Called): void {
    this.emsOf = key.bars.map((cells) => {
      const texts = cells.filter((cell) => cell[2]).map((cell) => key.chords[cell[0]]![called]);
      return texts.reduce((sum, text) => sum + ems(text) + BETWEEN, 0);
    });
    key.bars.forEach((cells, index) => {
      const button = this.bars[index]!;
      const spans = cells.map(([chord, at, written], place) => {
        const share = (cells[place + 1]?.[1] ?? 1) - at;
        const span = make("span", {}, written ? key.chords[chord]![called] : "\u2013");
        if (!written) span.classList.add("held");
        span.style.flexGrow = String(share);
        return span;
      });
      button.replaceChildren(...spans.flatMap((span) => [span, " "]));
      // Its name holds what is seen, for who speaks to the machine; its description is how the
      // machine says it well.
      const seen = spans.map((span) => span.textContent).join(" ");
      button.setAttribute("aria-label", `bar ${index + 1}, ${seen}`);
      button.dataset.said = cells.map(([chord]) => key.chords[chord]!.said).join(", then ");
      button.setAttribute("aria-description", button.dataset.said);
    });
    this.fit();
  }

  /** Type as large as the longest chords allow, each bar by itself. */
  private fit(): void {
    const first = this.bars[0];
    if (!first) return;
    const size = parseFloat(getComputedStyle(this.root).fontSize);
    const widest = Math.max(0.1, ...this.emsOf);
    this.root.classList.remove("dense");
    this.root.classList.toggle("dense", (first.clientWidth - 14) / size / widest < SMALLEST);
    const room = first.clientWidth - 14;
    this.bars.forEach((bar, index) => {
      const share = Math.min(1, room / size / Math.max(0.1, this.emsOf[index] ?? 1));
      bar.style.setProperty("--fit", share < 1 ? Math.max(0.34, share).toFixed(3) : "1");
    });
  }

  /** Mark the bar that sounds; -1 for none. */
  mark(bar: number): void {
    if (bar === this.current) return;
    this.bars[this.current]?.classList.remove("now");
    this.bars[this.current]?.removeAttribute("aria-current");
    this.current = bar;
    const button = this.bars[bar];
    if (!button) return;
    button.classList.add("now");
    button.setAttribute("aria-current", "true");
    this.show(button);
  }

  get marked(): number {
    return this.current;
  }

  /** Bring a bar into the part of the window that nothing covers, when it has left it. */
  private show(button: HTMLElement): void {
    let box = button.getBoundingClientRect();
    const style = getComputedStyle(document.documentElement);
    const foot = parseFloat(style.getPropertyValue("--foot-height")) || 80;
    const head = parseFloat(style.getPropertyValue("--head-height")) || 0;
    if (box.top >= head && box.bottom <= innerHeight - foot) return;
    // Of a loop that fits the first bar is brought to the top, so that nothing moves any more.
    const first = this.bars[this.looped?.[0] ?? -1]?.getBoundingClientRect();
    if (first && first.top < box.top && box.bottom - first.top < innerHeight - foot - head - 28)
      box = first;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const top = scrollY + box.top - head - 28;
    scrollTo({ top, behavior: still ? "instant" : "smooth" });
  }

  /** Show the bars between which it goes round, and the one from which it begins. */
  loop(loop: [number, number] | null, from: number | null): void {
    this.looped = loop;
    this.bars.forEach((bar, index) => {
      const inside = loop !== null && index >= loop[0] && index <= loop[1];
      bar.classList.toggle("loop", inside);
      bar.classList.toggle("from", index === from);
      const more = inside ? ", in the loop" : index === from ? ", begins here" : "";
      const words = `${bar.dataset.said ?? ""}${more}`;
      if (bar.getAttribute("aria-description") !== words) bar.setAttribute("aria-description", words);
    });
  }

  /** One bar at a time is on the way of the tab key; arrows lead to the others. */
  private focus(index: number, move: boolean): void {
    const bar = this.bars[index];
    if (!bar) return;
    this.bars[this.focused]?.setAttribute("tabindex", "-1");
    bar.setAttribute("tabindex", "0");
    this.focused = index;
    if (move) bar.focus();
  }

  get focusedBar(): number | null {
    return this.root.contains(document.activeElement) ? this.focused : null;
  }

  private walk(event: KeyboardEvent): void {
    const row = this.perRow();
    const steps: Record<string, number> = {
      ArrowLeft: -1, ArrowRight: 1, ArrowUp: -row, ArrowDown: row, Home: -1e6, End: 1e6,
    };
    const step = steps[event.key];
    if (step === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    this.focus(Math.min(this.bars.length - 1, Math.max(0, this.focused + step)), true);
  }

  private perRow(): number {
    const top = this.bars[0]?.offsetTop;
    const count = this.bars.findIndex((bar) => bar.offsetTop !== top);
    return count > 0 ? count : this.bars.length;
  }
}

/** About how wide a text is, in ems. */
function ems(text: string): number {
  let sum = 0;
  for (const sign of text)
    sum += WIDE[sign] ?? (/[A-Z]/.test(sign) ? 0.72 : /\d/.test(sign) ? 0.5 : 0.54);
  return sum;
}
