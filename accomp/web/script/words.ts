// The words of a tune: the text of its file, with what is wrong marked where it stands.
//
// Conventions: lines and columns count from 1, columns in characters. The marks lie in a layer
// under the text, which has the same letters in the same places and cannot be read twice.

import type { Problem } from "./ask";
import { make } from "./dom";

export class Words {
  private readonly layer: HTMLElement;
  private problems: Problem[] = [];
  private drawn = "";

  constructor(
    readonly field: HTMLTextAreaElement,
    onChange: () => void,
  ) {
    this.layer = make("pre", { class: "under", "aria-hidden": "true" });
    field.before(this.layer);
    field.addEventListener("input", () => {
      this.draw();
      onChange();
    });
  }

  get text(): string {
    return this.field.value;
  }

  /** Other words, the writing place left where it was as far as it can be. */
  set text(text: string) {
    if (text === this.field.value) return;
    const { selectionStart, selectionEnd } = this.field;
    this.field.value = text;
    this.field.setSelectionRange(selectionStart, selectionEnd);
    this.draw();
  }

  mark(problems: Problem[]): void {
    this.problems = problems;
    this.draw();
  }

  /** Bring the writing place to a line and column. */
  go(line: number, column: number): void {
    const at = offset(this.text.split("\n"), line, column);
    this.field.focus();
    this.field.setSelectionRange(at, at);
    this.layer.querySelector(`[data-at="${line}:${column}"]`)?.scrollIntoView({ block: "center" });
  }

  /** Begin to write: the writing place is where the first chord stands. */
  begin(): void {
    const at = this.text.indexOf("| ") + 2;
    this.field.focus({ preventScroll: true });
    this.field.setSelectionRange(at, at);
  }

  private draw(): void {
    const scene = JSON.stringify([this.text, this.problems]);
    if (scene === this.drawn) return;
    this.drawn = scene;
    const lines = this.text.split("\n");
    const parts: (Node | string)[] = [];
    lines.forEach((line, index) => {
      const here = this.problems.filter((one) => one.line === index + 1);
      parts.push(...marked(line, here), "\n");
    });
    parts.push(" ");
    this.layer.replaceChildren(...parts);
  }
}

/** A line with marks; of several in one place the first, its words under it. */
function marked(line: string, problems: Problem[]): (Node | string)[] {
  const signs = [...line];
  const parts: (Node | string)[] = [];
  let done = 0;
  let told = false;
  const order = [...problems].sort((a, b) => (a.column ?? 1) - (b.column ?? 1));
  for (const one of order) {
    const from = Math.min(Math.max((one.column ?? 1) - 1, 0), Math.max(signs.length - 1, 0));
    if (from < done && done > 0) continue;
    const found = one.found ?? "";
    const fits = found !== "" && signs.slice(from, from + [...found].length).join("") === found;
    const rest = /^\s*\S+|^\s+/.exec(signs.slice(from).join(""))?.[0] ?? " ";
    const to = from + (fits ? [...found].length : [...rest].length);
    parts.push(signs.slice(done, from).join(""));
    const mark = make("mark", { "data-at": `${one.line}:${one.column}` }, signs.slice(from, to).join("") || " ");
    if (!told) mark.append(make("span", { class: "note" }, short(one)));
    told = true;
    parts.push(mark);
    done = to;
  }
  parts.push(signs.slice(done).join(""));
  return parts;
}

/** A problem in as few words as there is room for under a line. */
export function short(one: Problem): string {
  return one.hint || one.message;
}

function offset(lines: string[], line: number, column: number): number {
  const before = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
  return before + [...(lines[line - 1] ?? "")].slice(0, Math.max(0, column - 1)).join("").length;
}
