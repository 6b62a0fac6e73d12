// The sound: audio clock, synthesiser, a fader for each group of players, a small room.

import { GROUPS, type ChannelUse, type FromSynth, type Group, type Sounded, type ToSynth } from "./messages";
import { CLICK_CHANNEL, COUNT_CHANNEL } from "./plan";
import { roomResponse } from "./room";
import type { Timeline, Track } from "./timeline";

const MASTER = 3.3; // brings the band within a few decibels of the loudness of the audio files
const KNEE = 0.75; // above it peaks are rounded, so that faders all the way up do not crackle
const GLIDE_S = 0.02; // a fader moves so quickly that it does not crackle

/** Bytes that the page carries as text in an element. */
export function carried(id: string): ArrayBuffer | null {
  const text = document.getElementById(id)?.textContent?.trim();
  if (!text) return null;
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let place = 0; place < raw.length; place++) bytes[place] = raw.charCodeAt(place);
  return bytes.buffer;
}

export class Sound {
  readonly faders: Record<Group, GainNode>;
  readonly output: GainNode;
  /** Done when all sounds are unpacked. */
  readonly loaded: Promise<void>;

  private constructor(
    readonly context: AudioContext,
    private readonly node: AudioWorkletNode,
    timeline: Timeline,
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
    const faders = GROUPS.map((group, place) => {
      const trim = context.createGain(); // the voice's place in the band, whatever the fader says
      trim.gain.value = group === "me" && timeline.voiced ? 10 ** (timeline.gain_db / 20) : 1;
      const fader = context.createGain();
      node.connect(trim, place);
      trim.connect(fader).connect(sum);
      return [group, fader] as const;
    });
    this.faders = Object.fromEntries(faders) as Record<Group, GainNode>;
    this.loaded = this.load().then(() => this.send({ kind: "channels", channels: channels(timeline) }));
  }

  /** Make the whole of it; throws an error whose message is a sentence for the reader. */
  static async start(timeline: Timeline): Promise<Sound> {
    if (typeof AudioContext === "undefined") throw new Error("This browser has no sound of its own.");
    const context = new AudioContext({ latencyHint: "interactive" });
    if (!context.audioWorklet) throw new Error("This browser cannot run the page's synthesiser.");
    await addModule(context);
    const node = new AudioWorkletNode(context, "accomp-strings", {
      numberOfInputs: 0,
      numberOfOutputs: GROUPS.length,
      outputChannelCount: GROUPS.map(() => 2),
    });
    return new Sound(context, node, timeline);
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

  private async load(): Promise<void> {
    for (const name of ["band", "voice"]) {
      const data = carried(`font-${name}`);
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

async function addModule(context: AudioContext): Promise<void> {
  const text = document.getElementById("synth")?.textContent?.trim() ?? "";
  // From a file Chromium takes a module from `data:` only.
  await context.audioWorklet.addModule(`data:text/javascript;base64,${text}`);
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
