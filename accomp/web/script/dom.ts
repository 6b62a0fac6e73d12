// Making elements: text is always text, never markup.

type Value = string | number | boolean | null | undefined;

/** A new element with attributes (null and false are left out) and children. */
export function make<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Record<string, Value> = {},
  ...children: (Node | string)[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  set(element, attributes);
  element.append(...children);
  return element;
}

const SVG = "http://www.w3.org/2000/svg";

export function draw<K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: Record<string, Value> = {},
  ...children: (Node | string)[]
): SVGElementTagNameMap[K] {
  const element = document.createElementNS(SVG, tag);
  set(element, attributes);
  element.append(...children);
  return element;
}

function set(element: Element, attributes: Record<string, Value>): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    element.setAttribute(name, value === true ? "" : String(value));
  }
}

/** The element of the page that must be there. */
export function part<E extends HTMLElement = HTMLElement>(id: string): E {
  const found = document.getElementById(id);
  if (found === null) throw new Error(`the page has no part ${id}`);
  return found as E;
}

/** A new text, put in only where it differs: a screen reader is not told twice. */
export function write(element: Element, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}
