// The timeline as Python writes it; its form is told in timeline.schema.json.
//
// Conventions: times are seconds at the tune's own tempo from the first bar line. A note is
// [start, after, end, after, key, velocity, channel, bank]: start and end grow when the tune is
// played slower, what comes after them does not.

export type Note = [number, number, number, number, number, number, number, number];

export interface Track {
  group: string;
  name: string;
  program: number;
  channels: number[];
  voiced: boolean;
  drums: boolean;
  level: number;
  pans: number[];
  notes: Note[];
}

export interface Bar {
  start: number;
  end: number;
  beats: number[];
  chorus: number;
  section: string;
  opens: boolean;
  count: number;
}

export interface Slot {
  at: number;
  word: string;
  stroke?: string;
  force?: string;
  strings?: string;
  sound?: string;
}

export interface ChordNames {
  text: string;
  number: string;
  said: string;
}

export interface KeyPart {
  name: string;
  chords: ChordNames[];
  bars: [number, number, number][][];
  tracks: Track[];
}

export interface Shape {
  frets: (number | null)[];
  fingers: number[];
  first: number;
  rows: number;
  barre: [number, number, number] | null;
  degrees: (string | null)[];
}

export interface Version {
  key: number;
  position: string;
  frets: [number, number];
  shapes: Shape[];
  changes: [number, number, number][];
  clauses: [string, string, string][];
  moves: Record<string, number[]>;
  track: Track;
}

export interface OpenString {
  name: string;
  string: number;
  note: [number, number, number, number];
}

export interface Timeline {
  form: number;
  title: string;
  composer: string;
  tempo: number;
  meter: string;
  style: string;
  instrument: { name: string; title: string; strings: string[]; frets: number[] };
  gain_db: number;
  voiced: boolean;
  bars: Bar[];
  counts: { slots: Slot[] }[];
  clicks: [number, number][];
  keys: KeyPart[];
  versions: Version[];
  tuning: OpenString[];
}

/** Index of the last of `starts` (rising) that is at or before `time`; -1 before the first. */
export function lastAt(starts: ArrayLike<number>, time: number): number {
  let low = 0;
  let high = starts.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((starts[middle] as number) <= time) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
