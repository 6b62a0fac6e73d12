// The bars beside the words: drawn anew when the words change, a click chooses where to play.

import type { Judged } from "./ask";
import { Chart } from "./chart";
import { make, part } from "./dom";
import type { Hearing } from "./hearing";

export class Bars {
  chosen: number | null = null; // the bar from which it begins
  private chart: Chart | null = null;
  private charted = "";

  constructor(private readonly hearing: Hearing) {}

  /** The bar that sounds, -1 for none. */
  get marked(): number {
    return this.chart?.marked ?? -1;
  }

  mark(bar: number): void {
    this.chart?.mark(bar);
  }

  /** Nothing is written yet. */
  clear(): void {
    part("chart").replaceChildren();
    this.charted = "";
    this.chosen = null;
  }

  show(chart: NonNullable<Judged["chart"]>): void {
    const charted = JSON.stringify(chart);
    if (charted === this.charted) return;
    this.charted = charted;
    const root = make("div", { id: "chart" });
    part("chart").replaceWith(root);
    this.chart = new Chart(root, chart, (bar) => this.choose(bar));
    this.chart.name(chart.key, "text");
    if ((this.hearing.loop?.[1] ?? 0) >= chart.bars.length) this.hearing.setLoop(null, 0);
    this.chart.loop(this.hearing.loop, this.chosen);
  }

  private choose(bar: number): void {
    const { hearing } = this;
    if (this.chosen === null || hearing.loop !== null) {
      this.chosen = bar;
      hearing.setLoop(null, bar);
    } else {
      return this.loop([Math.min(bar, this.chosen), Math.max(bar, this.chosen)]);
    }
    this.chart?.loop(hearing.loop, this.chosen);
  }

  /** Go round between two bars, or not. */
  loop(loop: [number, number] | null): void {
    this.chosen = null;
    this.hearing.setLoop(loop, loop?.[0] ?? 0);
    this.chart?.loop(loop, null);
  }
}
