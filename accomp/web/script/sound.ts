// The sound: audio clock, synthesiser, a fader for each group of players, a small room.

import { GROUPS, type ChannelUse, type FromSynth, type Group, type Sounded, type ToSynth } from "./messages";
import { CLICK_CHANNEL, COUNT_CHANNEL } from "./plan";
import { roomResponse } from "./room";
import type { Timeline, Track } from "./timeline";

const MASTER = 3.3; // brings the band within a few decibels of the loudness of the audio files
const KNEE = 0.75; // above it peaks are rounded, so that faders all the way up do not crackle
const GLIDE_S = 0.02; // a fader moves so quickly that it does not crackle

/** Where the synthesiser's module is, and the bytes of the fonts that it plays. */
export interface Source {
  module: string;
  font(name: FontName): Promise<ArrayBuffer | null>;
}

export const FONTS = ["band", "voice"] as const;
export type FontName = (typeof FONTS)[number];

export class Sound {
  readonly faders: Record<Group, GainNode>;
  readonly output: GainNode;
  /** Done when all sounds are unpacked. */
  loaded: Promise<void>;
  private readonly voice: GainNode; // the voice's place in the band, whatever the fader says

  private constructor(
    readonly context: AudioContext,
    private readonly node: AudioWorkletNode,
    timeline: Timeline,
    source: Source,
  ) {
    const rounded = context.createWaveShaper();
    rounded.curve = rounding();
    rounded.connect(context.destination);
    this.output = context.createGain();
    this.output.connect(rounded);
    const sum = context.createGain();
    sum.gain.value = MASTER;
    const room = context.createConvolver();
    room.normalize = false;
    room.buffer = roomResponse(context);
    sum.connect(this.output);
    sum.connect(room).connect(this.output);
    this.voice = context.createGain();
    const faders = GROUPS.map((group, place) => {
      const trim = group === "me" ? this.voice : context.createGain();
      const fader = context.createGain();
      node.connect(trim, place);
      trim.connect(fader).connect(sum);
      return [group, fader] as const;
    });
    this.faders = Object.fromEntries(faders) as Record<Group, GainNode>;
    this.loaded = this.load(source, FONTS).then(() => this.take(timeline));
  }

  /** Play another timeline from now on. */
  take(timeline: Timeline): void {
    this.voice.gain.value = timeline.voiced ? 10 ** (timeline.gain_db / 20) : 1;
    this.send({ kind: "channels", channels: channels(timeline) });
  }

  /** Unpack other fonts in place of those of these names. */
  change(source: Source, names: readonly FontName[]): Promise<void> {
    this.loaded = this.loaded.then(() => this.load(source, names));
    return this.loaded;
  }

  /** Make the whole of it; throws an error whose message is a sentence for the reader. */
  static async start(timeline: Timeline, source: Source): Promise<Sound> {
    if (typeof AudioContext === "undefined") throw new Error("This browser has no sound of its own.");
    const context = new AudioContext({ latencyHint: "interactive" });
    if (!context.audioWorklet) throw new Error("This browser cannot run the page's synthesiser.");
    await context.audioWorklet.addModule(source.module);
    const node = new AudioWorkletNode(context, "accomp-strings", {
      numberOfInputs: 0,
      numberOfOutputs: GROUPS.length,
      outputChannelCount: GROUPS.map(() => 2),
    });
    return new Sound(context, node, timeline, source);
  }

  /** Seconds of the audio clock. */
  get now(): number {
    return this.context.currentTime;
  }

  /** What is heard now was made so long ago. */
  get delay(): number {
    const delay = this.context.outputLatency;
    return Number.isFinite(delay) ? delay : (this.context.baseLatency ?? 0);
  }

  fade(group: Group, level: number): void {
    // A fader's travel is felt as even when its square is the gain.
    this.faders[group].gain.setTargetAtTime(level * level, this.now, GLIDE_S);
  }

  notes(notes: Sounded[]): void {
    if (notes.length) this.send({ kind: "notes", notes });
  }

  cut(at: number, ends: [number, number][] = []): void {
    this.send({ kind: "cut", at, ends });
  }

  private send(message: ToSynth, carry: Transferable[] = []): void {
    this.node.port.postMessage(message, carry);
  }

  private async load(source: Source, names: readonly FontName[]): Promise<void> {
    for (const name of names) {
      const data = await source.font(name);
      if (data === null) continue;
      await new Promise<void>((done, fail) => {
        this.node.port.onmessage = (event: MessageEvent<FromSynth>) => {
          const said = event.data;
          if (said.kind === "loaded") done();
          else fail(new Error(`The page's sounds could not be read (${said.words}).`));
        };
        this.send({ kind: "font", name, data }, [data]);
      });
    }
    this.node.port.onmessage = null;
  }
}

/** Straight to the knee, then ever flatter: over an input of -1 to 1, which is all a shaper sees. */
function rounding(): Float32Array<ArrayBuffer> {
  const curve = new Float32Array(4097);
  const half = (curve.length - 1) / 2;
  for (let place = 0; place < curve.length; place++) {
    const x = (place - half) / half;
    const over = Math.max(0, Math.abs(x) - KNEE) / (1 - KNEE);
    curve[place] = Math.sign(x) * (Math.min(Math.abs(x), KNEE) + (1 - KNEE) * (over - over ** 2 / 2));
  }
  return curve;
}

/** Which channel sounds what; the same in all keys and versions but for the program. */
function channels(timeline: Timeline): ChannelUse[] {
  const uses = new Map<number, ChannelUse>();
  const tracks: Track[] = [
    ...timeline.versions.map((version) => version.track),
    ...timeline.keys.flatMap((key) => key.tracks),
  ];
  for (const track of tracks) {
    track.channels.forEach((channel, place) => {
      uses.set(channel, {
        channel,
        group: GROUPS.indexOf(track.group as Group),
        drums: track.drums,
        program: track.program,
        level: track.level,
        pan: track.pans[place] ?? 64,
      });
    });
  }
  for (const [channel, group] of [[CLICK_CHANNEL, "click"], [COUNT_CHANNEL, "count"]] as const) {
    const place = GROUPS.indexOf(group);
    uses.set(channel, { channel, group: place, drums: true, program: 0, level: 88, pan: 78 });
  }
  return [...uses.values()];
}
