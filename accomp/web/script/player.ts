// Play and stop: keeps the synthesiser supplied, a little ahead of the audio clock.

import { Plan, tuneTime, type Piece, type Wishes } from "./plan";
import type { Sound } from "./sound";
import type { Timeline } from "./timeline";

const AHEAD_S = 0.6; // laid out so far ahead
const AHEAD_HIDDEN_S = 3; // a page in the background is woken once a second or less
const EVERY_MS = 60;
const SOON_S = 0.06; // what is asked for now can sound then

export interface Place {
  piece: Piece;
  time: number; // tune time
}

export class Player {
  private plan: Plan | null = null;
  private timer = 0;
  onEnd: () => void = () => undefined;

  constructor(
    private readonly sound: Sound,
    private readonly timeline: Timeline,
  ) {
    // In the background it is woken less often, so that it looks further ahead before.
    document.addEventListener("visibilitychange", () => this.supply());
  }

  get playing(): boolean {
    return this.plan !== null;
  }

  async play(wishes: Wishes, bar: number): Promise<void> {
    this.stop();
    await this.sound.context.resume();
    await this.sound.loaded;
    this.plan = new Plan(this.timeline, wishes, bar, this.sound.now + SOON_S);
    this.supply();
    this.timer = window.setInterval(() => this.supply(), EVERY_MS);
  }

  stop(): void {
    window.clearInterval(this.timer);
    if (this.plan === null) return;
    this.plan = null;
    this.sound.cut(this.sound.now);
  }

  /** Play on by other wishes. */
  change(wishes: Wishes): void {
    if (this.plan === null) return;
    const cut = this.plan.change(wishes, this.sound.now + SOON_S);
    this.sound.cut(cut.at, cut.ends);
    this.sound.notes(cut.notes);
    this.supply();
  }

  /** What is heard now. */
  place(): Place | null {
    if (this.plan === null) return null;
    const heard = this.sound.now - this.sound.delay;
    const piece = this.plan.pieceAt(heard);
    if (piece === undefined) return null;
    const time = Math.max(piece.from, Math.min(tuneTime(piece, heard), piece.to));
    return { piece, time };
  }

  /** The bar that follows what is heard, null after the last. */
  after(bar: number): number | null {
    return this.plan?.after(bar) ?? null;
  }

  private supply(): void {
    if (this.plan === null) return;
    const ahead = document.hidden ? AHEAD_HIDDEN_S : AHEAD_S;
    this.sound.notes(this.plan.fill(this.sound.now + ahead));
    if (this.sound.now > this.plan.end + 0.5) {
      this.stop();
      this.onEnd();
    }
  }
}
