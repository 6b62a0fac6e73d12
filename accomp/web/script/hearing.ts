// Hearing a tune at the desk: the practice page's player, with a timeline and fonts from the server.

import type { Heard } from "./ask";
import { lastAt, type Timeline } from "./timeline";
import { Player } from "./player";
import type { Wishes } from "./plan";
import { FASTEST, SLOWEST } from "./settings";
import { FONTS, Sound, type FontName, type Source } from "./sound";
import type { Group } from "./messages";

export interface Hearable {
  /** Ask for the tune as it is wished now. */
  fetch(): Promise<Heard>;
  synth: string;
  /** Something about playing has changed: draw it. */
  changed(): void;
  /** Each picture while it plays: the bar, a share of it, and whether it is counting in. */
  at(bar: number, share: number, counting: boolean, change: number): void;
}

export class Hearing {
  timeline: Timeline | null = null;
  mix: Record<string, number> = { me: 0.8, bass: 0.8, drums: 0.8, comping: 0.8, melody: 0.8, click: 0 };
  loop: [number, number] | null = null;
  faster = 0;
  first = 0;
  countIn = 1;
  speed = 1; // of the tune's own tempo
  private sound: Sound | null = null;
  private player: Player | null = null;
  private fonts: Record<string, string> = {};
  private stale = true;
  private latest: Heard | null = null;
  private getting: Promise<void> | null = null;
  private starting = false;
  private frame = 0;

  constructor(private readonly of: Hearable) {}

  get playing(): boolean {
    return this.player?.playing ?? false;
  }

  get busy(): boolean {
    return this.playing || this.starting;
  }

  /** Asked to play, and the sound is not there yet. */
  get waiting(): boolean {
    return this.starting && !this.playing;
  }

  /** What the tune sounds like has changed: it is asked for before it is played again. */
  async renew(now: boolean): Promise<void> {
    this.stale = true;
    if (now && this.playing) await this.ready();
  }

  async play(): Promise<void> {
    if (this.busy) return;
    this.starting = true;
    this.of.changed();
    try {
      await this.ready();
      await this.begin();
      if (!this.starting || !this.player) return;
      const begun = await this.player.play(() => this.wishes, () => this.bar);
      if (!begun) return;
      this.fade();
      cancelAnimationFrame(this.frame);
      this.frame = requestAnimationFrame(() => this.follow());
    } finally {
      this.starting = false;
      this.of.changed();
    }
  }

  stop(): void {
    this.starting = false;
    this.player?.stop();
    this.of.at(-1, -1, false, -1);
    this.of.changed();
  }

  toggle(): Promise<void> {
    if (!this.busy) return this.play();
    this.stop();
    return Promise.resolve();
  }

  /** Beats a minute that are wished for. */
  get tempo(): number {
    return (this.timeline?.tempo ?? 120) * this.speed;
  }

  /** Beats a minute that are heard; rounds may have raised them. */
  get heard(): number {
    return this.player?.tempo ?? this.tempo;
  }

  setTempo(tempo: number): void {
    const own = this.timeline?.tempo ?? tempo;
    this.speed = Math.min(FASTEST, Math.max(SLOWEST, tempo / own));
    this.player?.change(this.wishes, true);
    this.of.changed();
  }

  setLoop(loop: [number, number] | null, first: number): void {
    this.loop = loop;
    this.first = first;
    this.player?.change(this.wishes, false);
    this.of.changed();
  }

  /** Play on from another bar. */
  jump(bar: number): void {
    this.player?.jump(this.wishes, bar);
  }

  /** Something about what is chosen is to be said anew. */
  told(): void {
    this.of.changed();
  }

  setLevel(group: string, level: number): void {
    this.mix[group] = level;
    this.sound?.fade(group as Group, level);
  }

  private get bar(): number {
    const last = (this.timeline?.bars.length ?? 1) - 1;
    return Math.min(last, this.loop?.[0] ?? this.first);
  }

  private get wishes(): Wishes {
    const { loop, faster, countIn } = this;
    const last = (this.timeline?.bars.length ?? 1) - 1;
    const fits = loop && loop[1] <= last ? loop : null;
    return { tempo: this.tempo, version: 0, loop: fits, faster, upTo: (this.timeline?.tempo ?? 120) * FASTEST, countIn };
  }

  /** Have the tune before anybody asks to hear it: its count can be shown. */
  async prepare(): Promise<void> {
    if (!this.busy) await this.ready();
  }

  /** Have the tune as it is wished now. */
  private ready(): Promise<void> {
    this.getting ??= this.get().finally(() => (this.getting = null));
    return this.getting;
  }

  private async get(): Promise<void> {
    while (this.stale) {
      this.stale = false;
      let heard: Heard;
      try {
        heard = await this.of.fetch();
      } catch (error) {
        this.stale = true;
        throw error;
      }
      this.latest = heard;
      this.timeline = heard.timeline;
      await this.take(heard);
      this.of.changed();
    }
  }

  /** The sound is made when it is first asked for. */
  private async begin(): Promise<void> {
    if (this.player !== null || this.latest === null) return;
    const { timeline, fonts } = this.latest;
    this.sound = await Sound.start(timeline, fetched(this.of.synth, fonts));
    this.fonts = fonts;
    this.player = new Player(this.sound, timeline);
    this.player.onEnd = () => this.stop();
  }

  private async take(heard: Heard): Promise<void> {
    if (this.sound === null || this.player === null) return;
    const others = FONTS.filter((name) => heard.fonts[name] && heard.fonts[name] !== this.fonts[name]);
    if (others.length) {
      this.player.stop();
      await this.sound.change(fetched(this.of.synth, heard.fonts), others);
    }
    this.fonts = { ...this.fonts, ...heard.fonts };
    this.sound.take(heard.timeline);
    this.player.swap(heard.timeline, this.wishes);
  }

  private fade(): void {
    for (const [group, level] of Object.entries(this.mix)) this.sound?.fade(group as Group, level);
  }

  private follow(): void {
    const place = this.player?.place();
    const timeline = this.timeline;
    if (!place || !timeline) return;
    this.frame = requestAnimationFrame(() => this.follow());
    const { piece, time } = place;
    const bar = timeline.bars[piece.next];
    if (!bar) return;
    const counting = piece.bar < 0;
    const length = bar.end - bar.start;
    const since = counting ? (((time - bar.start) % length) + length) % length : time - bar.start;
    const starts = timeline.versions[0]!.changes.map((change) => change[0]);
    const change = Math.max(0, lastAt(starts, (counting ? bar.start : time) + 1e-6));
    this.of.at(piece.next, since / length, counting, change);
  }
}

/** Fonts that the server has. */
function fetched(synth: string, fonts: Record<string, string>): Source {
  return {
    module: synth,
    async font(name: FontName): Promise<ArrayBuffer | null> {
      const address = fonts[name];
      if (!address) return null;
      const answer = await fetch(address);
      if (!answer.ok) throw new Error("The sounds could not be fetched.");
      return answer.arrayBuffer();
    },
  };
}
