// What is played when: the tune laid on the audio clock, piece by piece.
//
// Conventions: a piece is a stretch of the tune (at most a bar) at one speed, in one version. Tune
// time is seconds at 100 %, audio time seconds of the audio clock; `stretch` is how many audio
// seconds a tune second lasts, 2 at half speed. The piece before the first has tune times before
// its bar: the count-in.

import type { Sounded } from "./messages";
import type { Note, Timeline, Track } from "./timeline";

export interface Piece {
  at: number;
  end: number;
  from: number;
  to: number;
  stretch: number;
  bar: number; // -1 while counting in
  next: number; // the bar that a count-in leads to
  version: number;
  round: number; // times round the loop, from 0
}

export interface Wishes {
  tempo: number; // beats a minute
  version: number;
  loop: [number, number] | null; // first and last bar
  faster: number; // beats a minute more each time round; 0: none
  upTo: number;
  countIn: number; // bars
}

/** Channels that no player has; see `_CHANNELS` and the strings' in the arrangement. */
export const CLICK_CHANNEL = 12;
export const COUNT_CHANNEL = 13;

interface Ringing {
  note: Sounded;
  start: number; // tune time
  end: number;
  after: number;
}

/** A change on its way: from `at` on what was laid out is dropped and `notes` come instead. */
export interface Cut {
  at: number;
  ends: [number, number][];
  notes: Sounded[];
}

/** Where a note's moment falls when a piece is played. */
export function moment(piece: Piece, time: number, after: number): number {
  return piece.at + (time - piece.from) * piece.stretch + after * Math.min(1, piece.stretch);
}

/** Tune time at an audio time within a piece. */
export function tuneTime(piece: Piece, at: number): number {
  return piece.from + (at - piece.at) / piece.stretch;
}

export class Plan {
  readonly pieces: Piece[] = [];
  /** Tempo now: each time round a loop may raise it. */
  tempo: number;
  private ringing: Ringing[] = [];
  private ids = 0;
  private over = false;

  constructor(
    private readonly timeline: Timeline,
    private wishes: Wishes,
    firstBar: number,
    start: number,
  ) {
    this.tempo = wishes.tempo;
    this.countIn(firstBar, start);
  }

  private get stretch(): number {
    return this.timeline.tempo / this.tempo;
  }

  /** The piece that is heard at an audio time. */
  pieceAt(at: number): Piece | undefined {
    for (let place = this.pieces.length - 1; place >= 0; place--) {
      const piece = this.pieces[place] as Piece;
      if (piece.at <= at) return piece;
    }
    return this.pieces[0];
  }

  /** When the last note is over; Infinity while there is more to come. */
  get end(): number {
    return this.over ? (this.pieces.at(-1)?.end ?? 0) : Infinity;
  }

  /** The bar after a bar, null after the last. */
  after(bar: number): number | null {
    const loop = this.wishes.loop;
    if (loop && (bar >= loop[1] || bar < loop[0])) return loop[0];
    return bar + 1 < this.timeline.bars.length ? bar + 1 : null;
  }

  private countIn(bar: number, start: number): void {
    const first = this.timeline.bars[bar];
    if (first === undefined) throw new RangeError(`there is no bar ${bar}`);
    const length = (first.end - first.start) * this.wishes.countIn;
    const piece: Piece = {
      at: start,
      end: start + length * this.stretch,
      from: first.start - length,
      to: first.start,
      stretch: this.stretch,
      bar: -1,
      next: bar,
      version: this.wishes.version,
      round: 0,
    };
    this.pieces.push(piece);
  }

  /** Lay out what begins before `until`; returns the notes of the new pieces. */
  fill(until: number): Sounded[] {
    const notes: Sounded[] = [];
    if (this.pieces.length === 1 && this.ids === 0) notes.push(...this.notesOf(this.pieces[0]!));
    while (!this.over && (this.pieces.at(-1) as Piece).end < until) {
      const piece = this.follow(this.pieces.at(-1) as Piece);
      if (piece === null) {
        this.over = true;
        break;
      }
      this.pieces.push(piece);
      notes.push(...this.notesOf(piece));
    }
    this.forget(until);
    return notes;
  }

  private follow(last: Piece): Piece | null {
    const bar = last.bar < 0 ? last.next : this.after(last.bar);
    if (bar === null) return null;
    const again = last.bar >= 0 && last.bar === this.wishes.loop?.[1];
    if (again) this.raise();
    const { start, end } = this.timeline.bars[bar]!;
    return {
      at: last.end,
      end: last.end + (end - start) * this.stretch,
      from: start,
      to: end,
      stretch: this.stretch,
      bar,
      next: bar,
      version: this.wishes.version,
      round: last.round + (again ? 1 : 0),
    };
  }

  private raise(): void {
    const { faster, upTo } = this.wishes;
    if (faster > 0 && this.tempo < upTo) this.tempo = Math.min(upTo, this.tempo + faster);
  }

  /** All notes that begin in a piece. */
  private notesOf(piece: Piece): Sounded[] {
    const notes: Sounded[] = [];
    const { versions, keys } = this.timeline;
    const version = versions[piece.version]!;
    const leadsToFirst = piece.bar < 0 && piece.next === 0;
    if (piece.bar >= 0 || leadsToFirst) {
      for (const track of [version.track, ...keys[version.key]!.tracks])
        notes.push(...this.notesOfTrack(track, piece));
    }
    notes.push(...this.clicks(piece));
    return notes;
  }

  private notesOfTrack(track: Track, piece: Piece): Sounded[] {
    const sounded: Sounded[] = [];
    const stops = this.stopsAtEnd(piece);
    for (let place = firstFrom(track.notes, piece.from); place < track.notes.length; place++) {
      const note = track.notes[place]!;
      if (note[0] >= piece.to) break;
      const [start, late, end, after, key, velocity, channel, bank] = note;
      const on = Math.max(piece.at, moment(piece, start, late));
      let off = Math.max(on + 0.005, moment(piece, end, after));
      if (stops && end >= piece.to) off = Math.max(on + 0.005, Math.min(off, piece.end));
      const id = ++this.ids;
      const one = { id, on, off, channel, key, velocity, bank, program: track.program };
      sounded.push(one);
      this.ringing.push({ note: one, start, end, after });
    }
    return sounded;
  }

  /** Whether the tune does not simply go on after a piece. */
  private stopsAtEnd(piece: Piece): boolean {
    return piece.bar >= 0 && this.after(piece.bar) !== piece.bar + 1;
  }

  private clicks(piece: Piece): Sounded[] {
    const counting = piece.bar < 0;
    const bar = this.timeline.bars[piece.next]!;
    const length = bar.end - bar.start;
    const rounds = counting ? this.wishes.countIn : 1;
    const channel = counting ? COUNT_CHANNEL : CLICK_CHANNEL;
    const notes: Sounded[] = [];
    for (let round = 0; round < rounds; round++) {
      bar.beats.forEach((beat, index) => {
        const time = counting ? beat - length * (rounds - round) : beat;
        if (time < piece.from - 1e-6 || time >= piece.to - 1e-6) return;
        const [key, velocity] = this.timeline.clicks[index === 0 ? 0 : 1]!;
        const on = moment(piece, time, 0);
        const id = ++this.ids;
        notes.push({ id, on, off: on + 0.05, channel, key, velocity, bank: 0, program: 0 });
      });
    }
    return notes;
  }

  /**
   * Change what is wished from an audio time on: at once when the speed changes, from the end of
   * the piece that sounds otherwise. Returns when, new ends of notes that sound then, and notes to
   * add.
   */
  change(wishes: Wishes, now: number, speed: boolean): Cut {
    const before = this.wishes;
    const piece = this.pieceAt(now) as Piece;
    this.wishes = wishes;
    this.over = false;
    this.pieces.length = this.pieces.indexOf(piece) + 1;
    this.tempo = this.timeline.tempo / piece.stretch;
    // After the last bar, while it rings out, what is wished for now begins now.
    piece.end = Math.max(piece.end, now);
    // A count-in shows what it leads to.
    if (piece.bar < 0) piece.version = wishes.version;
    if (speed) {
      this.tempo = wishes.tempo;
      return this.changeSpeed(piece, now);
    }
    const goesOn = before.version === wishes.version && !this.stopsAtEnd(piece);
    this.ringing = this.ringing.filter(({ note }) => note.on < piece.end);
    const rings = this.ringing.filter(({ note }) => goesOn && note.off > piece.end);
    return { at: piece.end, ends: rings.map(({ note }) => [note.id, note.off]), notes: [] };
  }

  private changeSpeed(piece: Piece, now: number): Cut {
    const middle = Math.min(piece.to, tuneTime(piece, now));
    const rest: Piece = { ...piece, at: now, from: middle, stretch: this.stretch };
    rest.end = now + (piece.to - middle) * this.stretch;
    piece.end = now;
    piece.to = middle;
    this.pieces.push(rest);
    const ends: [number, number][] = [];
    const notes: Sounded[] = [];
    const kept: Ringing[] = [];
    for (const one of this.ringing) {
      const { note, start } = one;
      if (start >= middle || note.off <= now) continue;
      const off = Math.max(now, moment(rest, one.end, one.after));
      note.off = this.stopsAtEnd(rest) ? Math.min(off, rest.end) : off;
      kept.push(one);
      // A stroke that is on its way over the strings is finished.
      if (note.on >= now) notes.push({ ...note, off: Math.max(note.off, note.on + 0.005) });
      else ends.push([note.id, note.off]);
    }
    this.ringing = kept;
    return { at: now, ends, notes: [...notes, ...this.notesOf(rest)] };
  }

  private forget(until: number): void {
    this.ringing = this.ringing.filter(({ note }) => note.off > until - 30);
    while (this.pieces.length > 400) this.pieces.shift();
  }
}

/** Index of the first note that starts at `time` or later. */
function firstFrom(notes: Note[], time: number): number {
  let low = 0;
  let high = notes.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (notes[middle]![0] < time - 1e-6) low = middle + 1;
    else high = middle;
  }
  return low;
}
