// What the page and its synthesiser say to each other.
//
// Conventions: times are seconds of the audio clock. A note has a number of its own, so that its
// end can be moved while it sounds.

/** Each goes to an output of its own, in this order. */
export const GROUPS = ["me", "bass", "drums", "comping", "melody", "click", "count"] as const;
export type Group = (typeof GROUPS)[number];

export interface Sounded {
  id: number;
  on: number;
  off: number;
  channel: number;
  key: number;
  velocity: number;
  bank: number;
  program: number;
}

export interface ChannelUse {
  channel: number;
  group: number;
  drums: boolean;
  program: number;
  level: number;
  pan: number;
}

export type ToSynth =
  | { kind: "font"; name: string; data: ArrayBuffer }
  | { kind: "channels"; channels: ChannelUse[] }
  | { kind: "notes"; notes: Sounded[] }
  // From `at` on nothing begins; what sounds ends then, or when `ends` says.
  | { kind: "cut"; at: number; ends: [number, number][] };

export type FromSynth = { kind: "loaded"; name: string } | { kind: "failed"; words: string };
