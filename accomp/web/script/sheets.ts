// The desk's sheets: which one is turned to, and how they lie for a tune and for a style.

import { part, write } from "./dom";

const WORDS = { tune: "the words of the file, chords between bar lines", style: "the words of the file, rows on the count" };

/** Turn to a sheet: on a phone it is a page of its own. */
export function turn(id: string): void {
  document.body.dataset.sheet = id;
  for (const way of document.querySelectorAll<HTMLAnchorElement>(".ways a")) {
    if (way.hash === `#${id}`) way.setAttribute("aria-current", "page");
    else way.removeAttribute("aria-current");
  }
  if (matchMedia("(max-width: 639px)").matches) scrollTo(0, 0);
  else part(id).scrollIntoView();
}

/** Lay the sheets of what is open: a style has its count beside its words, and no neck. */
export function layOut(style: boolean): void {
  for (const sheet of document.querySelectorAll<HTMLElement>(".of-tune")) sheet.hidden = false;
  for (const sheet of document.querySelectorAll<HTMLElement>(".tunes-only")) sheet.hidden = style;
  part(style ? "beside" : "band").append(part("band-body"));
  part<HTMLDetailsElement>("style-more").open = style && matchMedia("(min-width: 1100px)").matches;
  document.body.dataset.kind = style ? "style" : "tune";
  for (const id of ["tune-way", "tune-sheet"]) write(part(id), style ? "Style" : "Tune");
  write(part("words-label"), style ? WORDS.style : WORDS.tune);
}
