// Asking the desk: JSON over the network of this machine, and what it tells by itself.

import type { KeyPart, Shape, Timeline } from "./timeline";
import type { Charted } from "./chart";

export interface Problem {
  message: string;
  line?: number;
  column?: number;
  found?: string;
  hint?: string;
}

export interface TuneRow {
  name: string;
  title: string;
  key: string;
  meter: string;
  tempo: number | string;
  style: string;
  changed: string;
  made: string[];
  made_when: string;
  wrong: string;
}

export interface MadeRow {
  file: string;
  kind: string;
  role: string;
  position: string;
  bytes: number;
  newest: boolean;
}

export interface OneTune {
  name: string;
  kind: string; // "tune" or "style"
  text: string;
  sha256: string;
  made: MadeRow[];
}

export type Field = string | number | string[] | null;

export interface Judged {
  problems: Problem[];
  fields: Record<string, Field> | null;
  chart: (Charted & { key: Pick<KeyPart, "name" | "chords" | "bars"> }) | null;
  notices: string[];
}

/** A style that is written at the desk. */
export interface JudgedStyle {
  problems: Problem[];
  meter: string;
  lines: string[];
}

export interface StyleFile {
  name: string;
  title: string;
  meter: string;
}

export interface ChordBox {
  chord: string;
  text: string;
  said: string;
  shape: Shape;
  times: number;
  new: boolean;
  wide: boolean;
  pinned: boolean;
}

export interface PositionRow {
  name: string;
  frets: [number, number];
  open: boolean;
  stretch_mm: number;
  cost: number;
  boxes: ChordBox[];
  new: number;
  hardest: { from: string; to: string; words: string }[];
  notices: string[];
}

export interface Placed {
  problems: Problem[];
  key: string;
  instrument: string;
  first: string;
  comfort_mm: number;
  positions: PositionRow[];
  notices: string[];
}

export interface Others {
  chord: string;
  text: string;
  of: number;
  shapes: { frets: string; shape: Shape; top: string; stretch_mm: number; words: string }[];
}

export interface Heard {
  timeline: Timeline;
  fonts: Record<string, string>;
  notices: string[];
}

export interface Job {
  number: number;
  tune: string;
  title: string;
  words: string;
  state: "waiting" | "working" | "done" | "stopped" | "wrong";
  share: number;
  doing: string;
  files: string[];
  notices: string[];
  problems: Problem[];
}

/** Problems as sentences. */
export function told(problems: Problem[]): string {
  return problems.flatMap((one) => [one.message, one.hint]).filter(Boolean).join(" ");
}

/** The desk has said no, with reasons. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    readonly problems: Problem[],
    readonly body: Record<string, unknown>,
  ) {
    super(told(problems));
  }
}

/** The desk cannot be reached. */
export class Away extends Error {}

export async function ask<T>(method: string, path: string, body?: unknown): Promise<T> {
  const headers: Record<string, string> = body === undefined ? {} : { "content-type": "application/json" };
  let answer: Response;
  try {
    answer = await fetch(path, { method, headers, body: body === undefined ? null : JSON.stringify(body) });
  } catch {
    throw new Away("The desk does not answer.");
  }
  const value = (await answer.json().catch(() => ({}))) as Record<string, unknown>;
  if (!answer.ok) throw new Refused(answer.status, (value.problems as Problem[]) ?? [], value);
  return value as T;
}

/** A name as a part of an address. */
export const part = encodeURIComponent;

/**
 * Asks one thing at a time: what is wished for while an answer is on its way is asked after it, once,
 * as it is wished then.
 */
export class Latest<T> {
  private busy = false;
  private again = false;

  constructor(
    private readonly question: () => Promise<T> | null,
    private readonly answered: (value: T) => void,
    private readonly failed: (error: unknown) => void,
  ) {}

  async wish(): Promise<void> {
    this.again = true;
    if (this.busy) return;
    this.busy = true;
    while (this.again) {
      this.again = false;
      try {
        const value = await this.question();
        if (value !== null && !this.again) this.answered(value);
      } catch (error) {
        this.failed(error);
      }
    }
    this.busy = false;
  }
}
