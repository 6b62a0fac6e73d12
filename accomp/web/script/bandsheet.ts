// The band: which style is heard, on the count; how loud everybody is.

import { Count } from "./count";
import { make, part, write } from "./dom";
import type { Hearing } from "./hearing";
import type { Timeline } from "./timeline";

export interface StyleRow {
  name: string;
  title: string;
  meter: string;
  lines: string[];
}

const FADERS = ["me", "bass", "drums", "comping", "melody", "click"] as const;

export class BandSheet {
  private count: Count | null = null;
  private timeline: Timeline | null = null;
  private offered = "";

  constructor(
    private readonly hearing: Hearing,
    private readonly styles: () => StyleRow[],
    onTry: (style: string | null) => void,
    onKeep: () => void,
  ) {
    const select = part<HTMLSelectElement>("try-style");
    select.addEventListener("change", () => onTry(select.value || null));
    part("keep-style").addEventListener("click", onKeep);
  }

  /** The styles in a meter; `own` is what the tune says, `tried` what is heard instead. */
  offer(meter: string, own: string, tried: string | null): void {
    const rows = this.styles().filter((style) => style.meter === meter);
    const offered = JSON.stringify([rows.map((row) => row.name), own, tried]);
    if (offered !== this.offered) {
      this.offered = offered;
      const select = part<HTMLSelectElement>("try-style");
      const title = this.styles().find((style) => style.name === own)?.title.toLowerCase() ?? own;
      const first = make("option", { value: "" }, `as the tune says: ${title || "a plain one"}`);
      select.replaceChildren(first, ...rows.map((row) => make("option", { value: row.name }, row.title)));
      select.value = tried ?? "";
    }
    part("keep-style").hidden = tried === null || tried === own;
    const shown = this.styles().find((style) => style.name === (tried ?? own));
    this.words(shown?.lines ?? []);
  }

  /** A style in words, on the count. */
  words(lines: string[]): void {
    write(part("style-words"), lines.join("\n"));
    part("style-more").hidden = !lines.length;
  }

  /** Another timeline: its count stands ready. */
  take(timeline: Timeline): void {
    if (timeline === this.timeline) return;
    this.timeline = timeline;
    const place = make("div", { id: "count", class: "count", role: "img", "aria-label": "The count" });
    part("count").replaceWith(place);
    this.count = new Count(place, timeline);
    this.count.show(timeline.bars[0]!);
    this.faders(timeline);
  }

  at(bar: number, share: number): void {
    const shown = this.timeline?.bars[Math.max(0, bar)];
    if (shown) this.count?.show(shown);
    this.count?.mark(share);
  }

  private faders(timeline: Timeline): void {
    const groups = new Set<string>(["me", "click"]);
    for (const key of timeline.keys) for (const track of key.tracks) groups.add(track.group);
    const there = FADERS.filter((group) => groups.has(group));
    const mix = part("mix");
    if (mix.dataset.groups === there.join(" ")) return;
    mix.dataset.groups = there.join(" ");
    mix.replaceChildren(
      ...there.map((group) => {
        const value = Math.round((this.hearing.mix[group] ?? 0) * 100);
        const input = make("input", { type: "range", min: 0, max: 100, step: 5, value, "data-group": group });
        input.addEventListener("input", () => this.hearing.setLevel(group, Number(input.value) / 100));
        return make("label", {}, make("span", {}, group), input);
      }),
    );
  }
}
