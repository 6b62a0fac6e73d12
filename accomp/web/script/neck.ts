// The strip of neck: frets where they are, the hand's area, the fingers of the shape now.
//
// Conventions: drawn for the width it has, in pixels, so that its figures can be read everywhere.

import { draw } from "./dom";
import type { Shape, Timeline, Version } from "./timeline";

const TOP = 8;
const NUMBERED = [3, 5, 7, 9, 12, 15, 17, 19, 21];

export function neckStrip(
  timeline: Timeline,
  version: Version,
  shape: Shape | null,
  leftHanded: boolean,
  width: number,
): SVGSVGElement {
  const gap = width < 500 ? 9 : 12;
  const { frets, strings } = timeline.instrument;
  const last = Math.min(frets.length - 1, Math.max(12, version.frets[1] + 2));
  const room = frets[last]! * 1.01;
  const flip = (x: number): number => (leftHanded ? width - x : x);
  const place = (share: number): number => flip(6 + (share / room) * (width - 12));
  const middle = (fret: number): number =>
    fret === 0 ? place(0) : (place(frets[fret - 1]!) + place(frets[fret]!)) / 2;
  const bottom = TOP + gap * (strings.length - 1);
  const [low, high] = version.frets;
  const area = low ? `frets ${low} to ${high}` : "open strings";
  const svg = draw("svg", {
    viewBox: `0 0 ${width} ${bottom + 24}`,
    role: "img",
    class: "strip",
    "aria-label": `The neck: the hand stays between ${area}.`,
  });
  if (low) {
    const [a, b] = [place(frets[low - 1]!), place(frets[high]!)];
    const box = { x: Math.min(a, b), y: TOP - 5, width: Math.abs(b - a), height: bottom - TOP + 10 };
    svg.append(draw("rect", { class: "area", ...box }));
  }
  for (let fret = 0; fret <= last; fret++) {
    const x = place(frets[fret]!);
    const ends = { x1: x, y1: TOP, x2: x, y2: bottom };
    svg.append(draw("line", { class: fret ? "fret" : "nut", ...ends }));
    if (NUMBERED.includes(fret)) {
      const at = { x: middle(fret), y: bottom + 20, "text-anchor": "middle", "font-size": 14 };
      svg.append(draw("text", at, String(fret)));
    }
  }
  // The first string is nearest the floor, and on the strip on top, as in tablature.
  const y = (string: number): number => bottom - gap * string;
  strings.forEach((_, string) => {
    const ends = { x1: place(0), y1: y(string), x2: place(room), y2: y(string) };
    const thick = (2 - string * 0.35).toFixed(2);
    svg.append(draw("line", { class: "string", "stroke-width": thick, ...ends }));
  });
  shape?.frets.forEach((fret, string) => {
    if (fret === null || fret > last) return;
    const at = { cx: middle(fret), cy: y(string), r: fret ? 5 : 3.4 };
    svg.append(draw("circle", { class: fret ? "dot" : "open", ...at }));
  });
  return svg;
}
