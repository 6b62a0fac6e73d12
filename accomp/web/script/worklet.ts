// The synthesiser's side: notes by the audio clock, each group of players on an output of its own.
//
// The library makes the sound; this module only says when. A block of 128 frames is cut where an
// event falls, so that strokes are in time to the frame.

import { SoundBankLoader, SpessaLog, SpessaSynthProcessor } from "spessasynth_core";
import { type ChannelUse, type FromSynth, type Sounded, type ToSynth } from "./messages";

declare const sampleRate: number;
declare const currentTime: number;
declare function registerProcessor(name: string, kind: unknown): void;
declare class AudioWorkletProcessor {
  readonly port: MessagePort;
}

const BANK = 0;
const LEVEL = 7;
const PAN = 10;
const RELEASE = 72; // "release time" of MIDI's sound controllers
const AS_IT_IS = 64;
const SOON = 14; // of 127: a choked stroke on a font that has no sound for it ends at once

/** Strokes that come later than that (a page that slept) are left out: at once they were a bang. */
const TOO_LATE_S = 0.25;

interface Event {
  time: number;
  on: boolean;
  note: Sounded;
}

class Strings extends AudioWorkletProcessor {
  private readonly synth = new SpessaSynthProcessor(sampleRate, {
    effectsEnabled: false,
    eventsEnabled: false,
    initialTime: 0,
  });
  private pending: Event[] = [];
  private banks = new Map<number, string>();
  private group = new Array<number>(16).fill(0);
  private readonly effects = [new Float32Array(128), new Float32Array(128)] as const;
  private has = new Set<string>();

  constructor() {
    super();
    SpessaLog.setLogLevel?.(false, false, false);
    this.synth.onMissingPreset = () => undefined;
    this.port.onmessage = (event: MessageEvent<ToSynth>) => {
      void this.synth.processorInitialized.then(() => this.take(event.data));
    };
  }

  private say(words: FromSynth): void {
    this.port.postMessage(words);
  }

  private take(message: ToSynth): void {
    try {
      if (message.kind === "font") this.load(message.name, message.data);
      else if (message.kind === "channels") message.channels.forEach((use) => this.set(use));
      else if (message.kind === "notes") this.add(message.notes);
      else this.cut(message.at, new Map(message.ends));
    } catch (error) {
      this.say({ kind: "failed", words: String(error) });
    }
  }

  private load(name: string, data: ArrayBuffer): void {
    const bank = SoundBankLoader.fromArrayBuffer(data);
    // Unpacked now, while nothing sounds: unpacked on its first stroke, a sample would be late.
    for (const sample of bank.samples) sample.getAudioData();
    this.synth.soundBankManager.addSoundBank(bank, name);
    for (const preset of bank.presets) this.has.add(`${preset.bankMSB}:${preset.program}`);
    this.say({ kind: "loaded", name });
  }

  private set(use: ChannelUse): void {
    const channel = this.synth.midiChannels[use.channel];
    if (channel === undefined) return;
    channel.setDrums(use.drums);
    this.group[use.channel] = use.group;
    this.synth.controllerChange(use.channel, LEVEL, use.level);
    this.synth.controllerChange(use.channel, PAN, use.pan);
    this.banks.delete(use.channel);
  }

  private add(notes: Sounded[]): void {
    for (const note of notes) {
      this.insert({ time: note.on, on: true, note });
      this.insert({ time: note.off, on: false, note });
    }
  }

  /** In order of time; what ends comes before what begins. */
  private insert(event: Event): void {
    let place = this.pending.length;
    while (place > 0) {
      const before = this.pending[place - 1] as Event;
      if (before.time < event.time || (before.time === event.time && !(before.on && !event.on)))
        break;
      place--;
    }
    this.pending.splice(place, 0, event);
  }

  private cut(at: number, ends: Map<number, number>): void {
    const dropped = this.pending.filter((event) => event.time >= at);
    this.pending = this.pending.filter((event) => event.time < at);
    const unheard = new Set(dropped.filter((event) => event.on).map((event) => event.note.id));
    for (const { on, note } of dropped) {
      if (!on && !unheard.has(note.id))
        this.insert({ time: Math.max(at, ends.get(note.id) ?? at), on: false, note });
    }
  }

  private sound({ on, time, note }: Event): void {
    if (!on) {
      this.synth.noteOff(note.channel, note.key);
      return;
    }
    if (time < currentTime - TOO_LATE_S) return;
    const wanted = `${note.bank}:${note.program}`;
    if (this.banks.get(note.channel) !== wanted) {
      const drums = this.synth.midiChannels[note.channel]?.drumChannel;
      const there = this.has.has(wanted);
      if (!drums) this.synth.controllerChange(note.channel, BANK, there ? note.bank : 0);
      this.synth.programChange(note.channel, note.program);
      if (!drums)
        this.synth.controllerChange(note.channel, RELEASE, there || !note.bank ? AS_IT_IS : SOON);
      this.banks.set(note.channel, wanted);
    }
    this.synth.noteOn(note.channel, note.key, note.velocity);
  }

  process(_: Float32Array[][], outputs: Float32Array[][]): boolean {
    const frames = outputs[0]?.[0]?.length ?? 128;
    const pairs = this.group.map((group) => outputs[group] as Float32Array[]);
    let done = 0;
    while (done < frames) {
      const now = currentTime + done / sampleRate;
      while (this.pending.length && (this.pending[0] as Event).time <= now + 0.5 / sampleRate)
        this.sound(this.pending.shift() as Event);
      const next = this.pending[0]?.time ?? Infinity;
      const until = Math.min(frames, Math.max(done + 1, Math.round((next - currentTime) * sampleRate)));
      this.synth.processSplit(pairs, this.effects[0], this.effects[1], done, until - done);
      done = until;
    }
    return true;
  }
}

registerProcessor("accomp-strings", Strings);
