// Now and next: the two shapes, and in words what the fingers do between them.

import { chordBox } from "./box";
import { make, part, write } from "./dom";
import { neckStrip } from "./neck";
import { lastAt, type ChordNames, type Timeline, type Version } from "./timeline";

export interface Shown {
  boxes: boolean;
  numbers: boolean;
  leftHanded: boolean;
}

/** What stands on the stage: a change (index into the version's), or nothing. */
export interface Scene {
  version: number;
  now: number;
  next: number | null;
  nowLabel: string;
  nextLabel: string;
  near: boolean; // the next chord is a beat away
}

export class Stage {
  private readonly now = part("now");
  private readonly next = part("next");
  private readonly moves = part("moves");
  private readonly neck = part("neck");
  private drawn = "";
  private again: (() => void) | null = null;
  private starts = new Map<number, Float64Array>();

  constructor(private readonly timeline: Timeline) {
    new ResizeObserver(() => this.again?.()).observe(this.neck);
    const names = new ResizeObserver(() => this.fit());
    for (const place of [this.now, this.next]) names.observe(place);
    void document.fonts.ready.then(() => this.fit());
  }

  /** Index of the change that holds at a time. */
  changeAt(version: number, time: number): number {
    let starts = this.starts.get(version);
    if (!starts) {
      starts = Float64Array.from(this.timeline.versions[version]!.changes, (change) => change[0]);
      this.starts.set(version, starts);
    }
    return Math.max(0, lastAt(starts, time + 1e-6));
  }

  names(version: Version, change: number): ChordNames {
    const chord = version.changes[change]![1];
    return this.timeline.keys[version.key]!.chords[chord]!;
  }

  show(scene: Scene, shown: Shown): void {
    const version = this.timeline.versions[scene.version]!;
    const scenery = JSON.stringify([scene.version, scene.now, scene.next, shown]);
    if (scenery !== this.drawn) {
      this.drawn = scenery;
      this.put(this.now, version, scene.now, shown);
      this.put(this.next, version, scene.next, shown);
      this.fit();
      this.tell(version, scene);
      const shape = version.changes[scene.now]![2];
      this.again = () => {
        const width = Math.round(this.neck.clientWidth) || 400;
        const drawn = version.shapes[shape] ?? null;
        const strip = neckStrip(this.timeline, version, drawn, shown.leftHanded, width);
        this.neck.replaceChildren(strip);
      };
      this.again();
    }
    write(this.now.querySelector(".label")!, scene.nowLabel);
    write(this.next.querySelector(".label")!, scene.nextLabel);
    this.next.classList.toggle("near", scene.near);
  }

  private put(place: HTMLElement, version: Version, change: number | null, shown: Shown): void {
    const name = place.querySelector(".name")!;
    const box = place.querySelector(".box")!;
    place.classList.toggle("empty", change === null);
    if (change === null) {
      name.textContent = "";
      box.replaceChildren();
      return;
    }
    const names = this.names(version, change);
    const text = shown.numbers ? names.number : names.text;
    name.textContent = text;
    const shape = version.shapes[version.changes[change]![2]];
    box.replaceChildren(...(shape ? [chordBox(shape, names.said, shown.leftHanded)] : []));
  }

  /** Names as large as there is room for: they are read from a chair, not from a desk. */
  private fit(): void {
    const names = [this.now, this.next].map((place) => place.querySelector<HTMLElement>(".name")!);
    for (const name of names) name.style.removeProperty("--shrink");
    const shares = names.map((name) => name.clientWidth / Math.max(1, name.scrollWidth));
    names.forEach((name, place) => {
      const share = shares[place]!;
      if (share > 0 && share < 1) name.style.setProperty("--shrink", (0.99 * share).toFixed(3));
    });
  }

  private tell(version: Version, scene: Scene): void {
    const from = version.changes[scene.now]![2];
    const to = scene.next === null ? -1 : version.changes[scene.next]![2];
    const told = version.moves[`${from}>${to}`] ?? [];
    const [here, there] = [version.shapes[from], version.shapes[to]];
    const same = here !== undefined && String(here.frets) === String(there?.frets);
    const lines = (same ? [] : told).map((clause) => {
      const [who, verb, where] = version.clauses[clause]!;
      return make("p", {}, `${who} `, make("b", {}, verb), ` ${where}`);
    });
    if (!lines.length && to >= 0 && (same || from === to))
      lines.push(make("p", {}, "the hand ", make("b", {}, "stays"), " as it is"));
    this.moves.replaceChildren(...lines);
  }
}
