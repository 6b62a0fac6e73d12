// Which chord comes next, and in how many beats, as the tune is played (loops led back).

import type { Stage } from "./stage";
import { lastAt, type Timeline } from "./timeline";

export interface Coming {
  now: number;
  next: number | null;
  beats: number; // until the next chord
}

export class Ahead {
  private readonly beats: number[];
  private readonly starts: number[];

  constructor(
    private readonly timeline: Timeline,
    private readonly stage: Stage,
  ) {
    const { bars } = timeline;
    // The end is a beat too: there a loop of the last bar begins anew.
    this.beats = [...bars.flatMap((bar) => bar.beats), bars.at(-1)!.end];
    this.starts = bars.map((bar) => bar.start);
  }

  /** Seen from a time in a bar. From outside a loop the next bar is the loop's first. */
  at(version: number, time: number, loop: [number, number] | null): Coming {
    const { changes } = this.timeline.versions[version]!;
    const now = this.stage.changeAt(version, time);
    const bars = this.timeline.bars;
    const bar = Math.max(0, lastAt(this.starts, time + 1e-6));
    const outside = loop !== null && (bar < loop[0] || bar > loop[1]);
    const end = bars[outside ? bar : (loop?.[1] ?? bars.length - 1)]!.end;
    for (let next = now + 1; next < changes.length; next++) {
      const start = changes[next]![0];
      if (start >= end - 1e-6) break;
      return { now, next, beats: this.between(time, start) };
    }
    if (loop === null) return { now, next: null, beats: 0 };
    // Round the loop: the first chord there that is another one.
    const left = this.between(time, end);
    const from = bars[loop[0]]!.start;
    const until = bars[loop[1]]!.end;
    for (let next = this.stage.changeAt(version, from); next < changes.length; next++) {
      const [start, chord, shape] = changes[next]!;
      if (start >= until - 1e-6) break;
      if (chord === changes[now]![1] && shape === changes[now]![2]) continue;
      return { now, next, beats: left + this.between(from, Math.max(from, start)) };
    }
    return { now, next: null, beats: 0 };
  }

  /** Beats that begin after a time and not after another. */
  private between(from: number, to: number): number {
    return lastAt(this.beats, to + 1e-6) - lastAt(this.beats, from + 1e-6);
  }
}
