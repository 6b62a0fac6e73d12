// The page: puts its parts together, and follows the audio clock while it plays.

import { carried } from "./carried";
import { Chart } from "./chart";
import { clicked, stillOpen } from "./choice";
import { Count } from "./count";
import { part, write } from "./dom";
import { Foot } from "./foot";
import { Ahead } from "./next";
import { Player } from "./player";
import { remember, remembered, type Settings } from "./settings";
import { Sound } from "./sound";
import { hush, say } from "./speech";
import { Stage } from "./stage";
import { listen } from "./keys";
import type { Timeline } from "./timeline";
import { openStrings } from "./tuning";
import { stayAwake } from "./wake";

const PATIENCE_MS = 2500;
const NUMBERS = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight"];

class Page {
  readonly timeline = JSON.parse(part("timeline").textContent ?? "") as Timeline;
  settings: Settings = remembered(this.timeline);
  chosen: number | null = null; // the bar from which it begins
  open = false; // a click while it plays closes a loop
  sound: Sound | null = null;
  player: Player | null = null;
  readonly stage = new Stage(this.timeline);
  readonly ahead = new Ahead(this.timeline, this.stage);
  readonly chart = new Chart(part("chart"), this.timeline, (bar) => this.choose(bar));
  readonly count = new Count(part("count"), this.timeline);
  readonly foot = new Foot(this);
  readyMs = 0;
  private starting = false; // asked to play, and the sound is not awake yet
  private frame = 0;
  private named = "";
  private called = "";
  private told = "";

  start(): void {
    this.rename();
    this.paper();
    this.foot.refresh();
    this.still();
    this.measure();
    addEventListener("resize", () => this.measure());
    new ResizeObserver(() => this.measure()).observe(part("foot"));
    listen(this);
    openStrings(this);
    this.prepare().catch((error: unknown) => this.soundless(error));
  }

  /** The sound is made ready at once, and waits for the first click to be heard. */
  private async prepare(): Promise<void> {
    const sound = await Sound.start(this.timeline, carried());
    this.sound = sound;
    sound.loaded.catch((error: unknown) => this.soundless(error));
    // Some browsers unpack nothing before the first click: it must be possible all the same.
    await Promise.race([sound.loaded, new Promise((done) => setTimeout(done, PATIENCE_MS))]);
    this.player = new Player(sound, this.timeline);
    this.player.onEnd = () => this.stopped();
    this.mix();
    document.documentElement.dataset.ready = "sound";
    this.readyMs = performance.now();
    this.foot.refresh();
  }

  private soundless(error: unknown): void {
    const why = error instanceof Error ? error.message : String(error);
    this.player = null;
    this.starting = false;
    part("tuning").hidden = true;
    part("silent").hidden = false;
    write(part("silent"), `${why} The page shows the tune without sound.`);
    document.documentElement.dataset.ready = "silent";
    this.foot.refresh();
  }

  get playing(): boolean {
    return this.player?.playing ?? false;
  }

  /** Playing, or about to: what the button stops. */
  get busy(): boolean {
    return this.playing || this.starting;
  }

  /** Where play begins. */
  get first(): number {
    return this.settings.loop?.[0] ?? this.chosen ?? 0;
  }

  async play(): Promise<void> {
    if (!this.player || this.busy) return;
    this.starting = true;
    this.open = false;
    this.foot.refresh();
    try {
      // What is wished is asked for when the sound is awake: it may have changed meanwhile.
      if (!(await this.player.play(() => this.settings, () => this.first))) return;
    } catch {
      this.starting = false;
      this.foot.refresh();
      return; // said where the sounds were read
    }
    this.starting = false;
    this.mix();
    stayAwake(true);
    this.foot.refresh();
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame(() => this.follow());
  }

  stop(): void {
    if (!this.busy) return;
    this.starting = false;
    this.player?.stop();
    this.stopped();
  }

  toggle(): void {
    if (this.busy) this.stop();
    else void this.play();
  }

  private stopped(): void {
    stayAwake(false);
    hush();
    this.foot.refresh();
    this.chart.mark(-1);
    this.still();
  }

  /** Take over changed settings: what is heard, shown and remembered follows. */
  change(some: Partial<Settings>): void {
    const before = this.settings;
    // Rounds of a loop may have raised what is heard over what was set: the heard one counts.
    const speed = some.tempo !== undefined && some.tempo !== this.tempo;
    if (some.loop) this.chosen = null;
    this.settings = { ...before, ...some };
    remember(this.timeline, this.settings);
    for (const [group, level] of Object.entries(this.settings.mix))
      if (level !== before.mix[group]) this.sound?.fade(group as "me", level);
    const played = ["version", "loop", "faster", "upTo"] as const;
    if (speed || played.some((name) => this.settings[name] !== before[name]))
      this.player?.change(this.settings, speed);
    if (some.paper) this.paper();
    if (some.say === false) hush();
    this.rename();
    this.foot.refresh();
    if (!this.playing) this.still();
  }

  /** Every fader where the settings have it. */
  private mix(): void {
    for (const [group, level] of Object.entries(this.settings.mix))
      this.sound?.fade(group as "me", level);
  }

  /** A click on a bar. */
  choose(bar: number): void {
    const { loop } = this.settings;
    const now = clicked(bar, { chosen: this.chosen, loop, open: this.open }, this.playing);
    this.chosen = now.chosen;
    this.open = now.open;
    this.change({ loop: now.loop });
    if (now.jump) this.player?.jump(this.settings, bar);
  }

  /** The tempo that is played; each round of a loop may have raised it. */
  get tempo(): number {
    return this.player?.tempo ?? this.settings.tempo;
  }

  private rename(): void {
    const version = this.timeline.versions[this.settings.version]!;
    const names = `${version.key} ${this.settings.numbers}`;
    if (names !== this.named) {
      this.named = names;
      this.chart.name(this.timeline.keys[version.key]!, this.settings.numbers ? "number" : "text");
    }
    this.chart.loop(this.settings.loop, this.chosen);
    document.body.classList.toggle("without-boxes", !this.settings.boxes);
  }

  private paper(): void {
    document.documentElement.dataset.paper = this.settings.paper;
  }

  /** The page at rest: what comes first stands ready. */
  private still(): void {
    const bar = this.timeline.bars[this.first]!;
    this.count.show(bar);
    this.count.mark(-1);
    const coming = this.ahead.at(this.settings.version, bar.start, this.settings.loop);
    this.stage.show(
      {
        version: this.settings.version, now: coming.now, next: coming.next, near: false,
        nowLabel: "first", nextLabel: coming.next === null ? "" : "next",
      },
      this.settings,
    );
    this.place(this.first);
  }

  private place(bar: number): void {
    const { bars, keys, versions, instrument } = this.timeline;
    const version = versions[this.settings.version]!;
    const words = [
      keys[version.key]!.name, this.timeline.meter, this.timeline.style.toLowerCase(),
      `${instrument.name.toLowerCase()}, ${version.position}`,
    ];
    write(part("sub"), words.join(" · "));
    write(part("at"), ` · bar ${bar + 1} of ${bars.length}`);
  }

  /** Each picture: show what is heard. */
  private follow(): void {
    const place = this.player?.place();
    if (!place) return;
    this.frame = requestAnimationFrame(() => this.follow());
    const { piece, time } = place;
    const counting = piece.bar < 0;
    const bar = this.timeline.bars[piece.next]!;
    this.chart.mark(piece.next);
    if (this.open && !stillOpen({ ...this.settings, chosen: this.chosen, open: true }, piece.next)) {
      this.open = false;
      this.foot.refresh();
    }
    this.place(piece.next);
    this.count.show(bar);
    const length = bar.end - bar.start;
    const since = counting ? (((time - bar.start) % length) + length) % length : time - bar.start;
    this.count.mark(since / length);
    const seen = counting ? bar.start : time;
    const coming = this.ahead.at(piece.version, seen, this.settings.loop);
    const beats = coming.beats;
    const inBeats = `next, in ${NUMBERS[beats] ?? beats} ${beats === 1 ? "beat" : "beats"}`;
    const last = coming.next === null ? "" : beats > 0 ? inBeats : "next";
    this.stage.show(
      {
        version: piece.version, now: coming.now, next: coming.next,
        near: !counting && beats <= 1, nowLabel: counting ? "first" : "now", nextLabel: last,
      },
      this.settings,
    );
    this.foot.tell(this.timeline.tempo / piece.stretch);
    this.speak(piece.version, counting, coming.now, coming.next, beats, piece.next, piece.round);
  }

  private speak(
    version: number, counting: boolean, now: number, next: number | null, beats: number,
    bar: number, round: number,
  ): void {
    const { versions } = this.timeline;
    const names = this.stage.names(versions[version]!, now);
    const told = `bar ${bar + 1}, ${names.said}`;
    // The live region tells chord and bar when the chord changes, not every beat.
    const first = counting && this.settings.countIn > 0;
    const moment = `${first} ${now} ${round}`;
    if (moment !== this.told) {
      this.told = moment;
      write(part("told"), first ? `counting in, first ${names.said}` : told);
    }
    if (!this.settings.say || next === null || beats > 1 || counting) return;
    const called = `${now} ${next} ${round}`;
    if (called === this.called) return;
    this.called = called;
    say(this.stage.names(versions[version]!, next).said);
  }

  /** Heights that the page's style and the chart's scrolling need. */
  private measure(): void {
    const style = document.documentElement.style;
    style.setProperty("--foot-height", `${part("foot").offsetHeight}px`);
    const hand = part("hand");
    const over = getComputedStyle(hand).position === "sticky" && hand.offsetWidth > innerWidth * 0.8;
    style.setProperty("--head-height", `${over ? hand.offsetHeight : 0}px`);
  }
}

export type { Page };

const page = new Page();
page.start();

// For whoever wants to look at or listen to the page from outside, tests before all.
Object.assign(globalThis, { practice: page });
