// What the page remembers of its tune: speed, loop, mix and what is shown.
// Where the browser remembers nothing, it is silently forgotten.

import type { Timeline } from "./timeline";

export interface Settings {
  tempo: number;
  version: number;
  loop: [number, number] | null;
  faster: number;
  upTo: number;
  countIn: number;
  mix: Record<string, number>; // 0 to 1
  boxes: boolean;
  numbers: boolean;
  leftHanded: boolean;
  say: boolean;
  paper: "device" | "light" | "dark";
}

export const SLOWEST = 0.3;
export const FASTEST = 1.5;

export function usual(timeline: Timeline): Settings {
  return {
    tempo: timeline.tempo,
    version: 0,
    loop: null,
    faster: 0,
    upTo: timeline.tempo,
    countIn: 1,
    mix: { me: 0.8, bass: 0.8, drums: 0.8, comping: 0.8, melody: 0.8, click: 0 },
    boxes: true,
    numbers: false,
    leftHanded: false,
    say: false,
    paper: "device",
  };
}

/** Settings made sane: what a stored text says is not to be relied on. */
export function sane(found: Partial<Settings> & { called?: unknown }, timeline: Timeline): Settings {
  const plain = usual(timeline);
  const number = (value: unknown, low: number, high: number, other: number): number =>
    typeof value === "number" && value >= low && value <= high ? value : other;
  const whole = (value: unknown, low: number, high: number, other: number): number =>
    Number.isInteger(value) ? number(value, low, high, other) : other;
  const [slow, fast] = [timeline.tempo * SLOWEST, timeline.tempo * FASTEST];
  const last = timeline.bars.length - 1;
  const loop = Array.isArray(found.loop) ? found.loop : [];
  const [a, b] = [whole(loop[0], 0, last, -1), whole(loop[1], 0, last, -1)];
  const flag = (value: unknown): boolean => value === true;
  return {
    tempo: number(found.tempo, slow, fast, plain.tempo),
    version: Math.max(0, timeline.versions.findIndex((_, index) => called(timeline, index) === found.called)),
    loop: a >= 0 && b >= a ? [a, b] : null,
    faster: whole(found.faster, 0, 20, 0),
    upTo: number(found.upTo, slow, fast, plain.upTo),
    countIn: whole(found.countIn, 0, 2, 1),
    mix: Object.fromEntries(
      Object.entries(plain.mix).map(([group, level]) => [
        group,
        number((found.mix as Record<string, unknown> | undefined)?.[group], 0, 1, level),
      ]),
    ),
    boxes: found.boxes === undefined ? true : flag(found.boxes),
    numbers: flag(found.numbers),
    leftHanded: flag(found.leftHanded),
    say: flag(found.say),
    paper: found.paper === "light" || found.paper === "dark" ? found.paper : "device",
  };
}

/** A page of the tune for another instrument, or at another tempo, begins anew. */
function place(timeline: Timeline): string {
  const { title, meter, bars, instrument, tempo } = timeline;
  return `practice: ${title}, ${meter}, ${bars.length} bars, ${instrument.name}, ${tempo}`;
}

/** What a version is called: a page made again may have its versions in another order. */
function called(timeline: Timeline, version: number): string {
  const { key, position } = timeline.versions[version]!;
  return `${timeline.keys[key]!.name}, ${position}`;
}

export function remembered(timeline: Timeline): Settings {
  try {
    const text = localStorage.getItem(place(timeline));
    return sane(text ? (JSON.parse(text) as Partial<Settings>) : {}, timeline);
  } catch {
    return usual(timeline);
  }
}

export function remember(timeline: Timeline, settings: Settings): void {
  try {
    const { version, ...rest } = settings;
    const kept = { ...rest, called: called(timeline, version) };
    localStorage.setItem(place(timeline), JSON.stringify(kept));
  } catch {
    // Nothing is lost but comfort.
  }
}
