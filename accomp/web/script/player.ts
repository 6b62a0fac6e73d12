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
  private asked = 0; // each wish to play or stop has a number: only the last one counts
  onEnd: () => void = () => undefined;

  constructor(
    private readonly sound: Sound,
    private timeline: Timeline,
  ) {
    // In the background it is woken less often, so that it looks further ahead before.
    document.addEventListener("visibilitychange", () => this.supply());
  }

  get playing(): boolean {
    return this.plan !== null;
  }

  /** Play as soon as the sound is awake; false when something else was asked for meanwhile. */
  async play(wishes: () => Wishes, bar: () => number): Promise<boolean> {
    this.stop();
    const mine = this.asked;
    await this.sound.context.resume();
    await this.sound.loaded;
    if (mine !== this.asked) return false;
    this.plan = new Plan(this.timeline, wishes(), bar(), this.sound.now + SOON_S);
    this.supply();
    this.timer = window.setInterval(() => this.supply(), EVERY_MS);
    return true;
  }

  stop(): void {
    this.asked++;
    window.clearInterval(this.timer);
    if (this.plan === null) return;
    this.plan = null;
    this.sound.cut(this.sound.now);
  }

  /** Play on by other wishes; `speed` when the speed wished for is another than is heard. */
  change(wishes: Wishes, speed: boolean): void {
    if (this.plan === null) return;
    const cut = this.plan.change(wishes, this.sound.now + SOON_S, speed);
    this.sound.cut(cut.at, cut.ends);
    this.sound.notes(cut.notes);
    this.supply();
  }

  /** Play on from another bar, at once and without counting in, as fast as before. */
  jump(wishes: Wishes, bar: number): void {
    if (this.plan === null) return;
    const tempo = this.tempo ?? wishes.tempo;
    const at = this.sound.now + SOON_S;
    this.sound.cut(at);
    this.plan = new Plan(this.timeline, { ...wishes, tempo, countIn: 0 }, bar, at);
    this.supply();
  }

  /** Play another timeline of the same bars: while it plays, from the next bar line on. */
  swap(timeline: Timeline, wishes: Wishes): void {
    const before = this.plan;
    this.timeline = timeline;
    if (before === null) return;
    const soon = this.sound.now + SOON_S;
    const piece = before.pieceAt(soon)!;
    const next = piece.bar < 0 ? piece.next : (before.after(piece.bar) ?? 0);
    const at = Math.max(piece.end, soon);
    this.sound.cut(at);
    const bar = Math.min(next, timeline.bars.length - 1);
    this.plan = new Plan(timeline, { ...wishes, countIn: 0 }, bar, at);
    this.supply();
  }

  /** The speed of what was laid out last for now: a moment before it is heard. Null at rest. */
  get tempo(): number | null {
    const piece = this.plan?.pieceAt(this.sound.now + SOON_S);
    return piece ? this.timeline.tempo / piece.stretch : null;
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
