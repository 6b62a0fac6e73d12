// The bars beside the words: drawn anew when the words change, a click chooses where to play.

import type { Judged } from "./ask";
import { Chart } from "./chart";
import { clicked, stillOpen } from "./choice";
import { make, part } from "./dom";
import type { Hearing } from "./hearing";

export class Bars {
  chosen: number | null = null; // the bar from which it begins
  open = false; // a click while it plays closes a loop
  private chart: Chart | null = null;
  private charted = "";

  constructor(private readonly hearing: Hearing) {}

  /** The bar that sounds, -1 for none. */
  get marked(): number {
    return this.chart?.marked ?? -1;
  }

  mark(bar: number): void {
    this.chart?.mark(bar);
    if (!this.open || stillOpen(this.choice, bar)) return;
    this.open = false;
    this.hearing.told();
  }

  private get choice(): { chosen: number | null; loop: [number, number] | null; open: boolean } {
    return { chosen: this.chosen, loop: this.hearing.loop, open: this.open };
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
    const now = clicked(bar, this.choice, hearing.playing);
    this.chosen = now.chosen;
    this.open = now.open;
    hearing.setLoop(now.loop, now.loop?.[0] ?? bar);
    if (now.jump) hearing.jump(bar);
    this.chart?.loop(now.loop, now.chosen);
  }

  /** Go round between two bars, or not. */
  loop(loop: [number, number] | null): void {
    this.chosen = null;
    this.hearing.setLoop(loop, loop?.[0] ?? 0);
    this.chart?.loop(loop, null);
  }
}
