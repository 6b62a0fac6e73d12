// A chord box: the drawing of the printed pages, in the page's ink.
//
// Conventions: as on paper. Strings stand upright, the highest-numbered on the left (on the right
// for a left-handed player); a ring over a string is an open one, a cross one that is not sounded;
// the number of the first fret stands beside its space when the nut is not shown, fingers under.

import { draw } from "./dom";
import type { Shape } from "./timeline";

const STRING_GAP = 11;
const FRET_GAP = 13;
const DOT = 3.9;
const RING = 2.3;
const SIDE = 15;
const TOP = 9;
const BOTTOM = 12;
const SMALL = 8;
const ORDINALS = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth"];

export function chordBox(shape: Shape, name: string, leftHanded: boolean): SVGSVGElement {
  const strings = shape.frets.length;
  const width = 2 * SIDE + STRING_GAP * (strings - 1);
  const bottom = TOP + FRET_GAP * shape.rows;
  const svg = draw("svg", {
    viewBox: `0 0 ${width} ${bottom + BOTTOM}`,
    role: "img",
    "aria-label": `${name}: ${boxWords(shape)}`,
    class: "chord-box",
  });
  const x = (string: number): number =>
    SIDE + STRING_GAP * (leftHanded ? strings - 1 - string : string);
  const y = (fret: number): number => TOP + FRET_GAP * (fret - shape.first + 0.5);
  for (let across = 0; across <= shape.rows; across++) {
    const nut = across === 0 && shape.first === 1;
    const at = TOP + FRET_GAP * across;
    const ends = { x1: SIDE, y1: at, x2: width - SIDE, y2: at };
    svg.append(draw("line", { class: nut ? "nut" : "fret", ...ends }));
  }
  for (let string = 0; string < strings; string++) {
    const ends = { x1: x(string), y1: TOP, x2: x(string), y2: bottom };
    svg.append(draw("line", { class: "string", ...ends }));
  }
  if (shape.first > 1) {
    const at = { x: SIDE - 7, y: TOP + FRET_GAP / 2 + SMALL * 0.34, "text-anchor": "end" };
    svg.append(draw("text", { class: "first-fret", "font-size": SMALL, ...at }, String(shape.first)));
  }
  if (shape.barre) {
    const [fret, from, to] = shape.barre;
    svg.append(draw("line", { class: "barre", x1: x(from), y1: y(fret), x2: x(to), y2: y(fret) }));
  }
  shape.frets.forEach((fret, string) => {
    const [cx, over] = [x(string), TOP - 5];
    if (fret === null) {
      const d = `M${cx - RING} ${over - RING}L${cx + RING} ${over + RING}M${cx - RING} ${over + RING}L${cx + RING} ${over - RING}`;
      svg.append(draw("path", { class: "muted", d }));
    } else if (fret === 0) {
      svg.append(draw("circle", { class: "open", cx, cy: over, r: RING }));
    } else {
      svg.append(draw("circle", { class: "dot", cx, cy: y(fret), r: DOT }));
    }
    const finger = shape.fingers[string];
    if (finger) {
      const at = { x: cx, y: bottom + 9.5, "text-anchor": "middle" };
      svg.append(draw("text", { class: "finger", "font-size": SMALL, ...at }, String(finger)));
    }
  });
  return svg;
}

/** The box in words, from the highest-numbered string: "fourth string fret 5, third open". */
export function boxWords(shape: Shape): string {
  const strings = shape.frets.length;
  return shape.frets
    .map((fret, string) => {
      const number = strings - string;
      const name = `${ORDINALS[number - 1] ?? `${number}th`} string`;
      if (fret === null) return `${name} not sounded`;
      return fret === 0 ? `${name} open` : `${name} fret ${fret}`;
    })
    .join(", ");
}
