// What a page carries with it: the synthesiser and its fonts, as text in elements.

import type { FontName, Source } from "./sound";

function text(id: string): string {
  return document.getElementById(id)?.textContent?.trim() ?? "";
}

/** The sounds of a page that is one file. */
export function carried(): Source {
  return {
    // From a file Chromium takes a module from `data:` only.
    module: `data:text/javascript;base64,${text("synth")}`,
    font: (name: FontName) => Promise.resolve(bytes(text(`font-${name}`))),
  };
}

function bytes(base64: string): ArrayBuffer | null {
  if (!base64) return null;
  const raw = atob(base64);
  const found = new Uint8Array(raw.length);
  for (let place = 0; place < raw.length; place++) found[place] = raw.charCodeAt(place);
  return found.buffer;
}
