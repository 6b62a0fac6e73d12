// The count of the bar: its numbers, the strokes over them, how each is made.

import { make } from "./dom";
import { lastAt, type Bar, type Slot, type Timeline } from "./timeline";

const ARROWS: Record<string, string> = { down: "↓", up: "↑" };

export class Count {
  private pattern = -1;
  private slots: HTMLElement[] = [];
  private on = -1;

  constructor(
    private readonly root: HTMLElement,
    private readonly timeline: Timeline,
  ) {}

  /** Show how a bar is counted and struck. */
  show(bar: Bar): void {
    if (bar.count === this.pattern) return;
    this.pattern = bar.count;
    this.on = -1;
    const { slots } = this.timeline.counts[bar.count]!;
    this.slots = slots.map((slot) => this.slot(slot));
    const shares = slots.map((slot, place) => (slots[place + 1]?.at ?? 1) - slot.at);
    this.root.style.gridTemplateColumns = shares.map((share) => `minmax(0, ${share}fr)`).join(" ");
    this.root.classList.toggle("fine", slots.length > 6);
    this.root.replaceChildren(...this.slots);
    this.root.setAttribute("aria-label", `The count: ${slots.map(words).join("; ")}`);
  }

  private slot(slot: Slot): HTMLElement {
    const dead = slot.sound?.includes("dead");
    const arrow = slot.stroke ? (dead ? "×" : ARROWS[slot.stroke]!) : "";
    return make(
      "div",
      { class: /^\d/.test(slot.word) ? "slot" : "slot between" },
      make("span", { class: `arrow ${slot.force ?? ""}` }, arrow),
      make("span", { class: "word" }, slot.word || "·"),
      make("span", { class: "how" }, slot.strings ?? ""),
      make("span", { class: "how" }, slot.stroke ? slot.sound || "rings" : ""),
    );
  }

  /** Mark the count at a share of the bar; -1 for none. */
  mark(share: number): void {
    const { slots } = this.timeline.counts[this.pattern] ?? { slots: [] };
    const starts = slots.map((slot) => slot.at);
    const place = share < 0 ? -1 : Math.max(0, lastAt(starts, share + 1e-4));
    if (place === this.on) return;
    this.slots[this.on]?.classList.remove("on");
    this.slots[place]?.classList.add("on");
    this.on = place;
  }

  get marked(): number {
    return this.on;
  }
}

function words(slot: Slot): string {
  if (!slot.stroke) return slot.word;
  const how = [slot.stroke, slot.force, slot.strings, slot.sound].filter(Boolean).join(" ");
  return `${slot.word} ${how}`;
}
