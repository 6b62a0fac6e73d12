// The shelf: the tunes of the folder, one line each; search, a new one, a lead sheet dropped on it.

import { ask, part as named, told, type Problem, type StyleFile, type TuneRow } from "./ask";
import type { StyleRow } from "./bandsheet";
import { make, part, write } from "./dom";
import { real } from "./fields";
import { WORDS } from "./takesheet";

const FEW = 12; // lines that are shown before all are asked for

export class ShelfSheet {
  private rows: TuneRow[] = [];
  private styles: StyleFile[] = [];
  private all = false;
  private open = "";

  constructor(
    private readonly onOpen: (name: string, begun: boolean) => void,
    private readonly say: (words: string) => void,
  ) {
    part<HTMLInputElement>("search").addEventListener("input", () => this.draw());
    part("all-tunes").addEventListener("click", () => {
      this.all = true;
      this.draw();
    });
    part<HTMLFormElement>("new-tune").addEventListener("submit", (event) => {
      event.preventDefault();
      void this.create();
    });
    part<HTMLFormElement>("new-style").addEventListener("submit", (event) => {
      event.preventDefault();
      void this.createStyle();
    });
    const file = part<HTMLInputElement>("leadsheet");
    file.addEventListener("change", () => void this.takeOver([...(file.files ?? [])]));
    this.drop(part("shelf"));
  }

  /** The styles of one's own, called as a tune file beside them calls them. */
  get own(): StyleRow[] {
    return this.styles.map(({ name, title, meter }) => ({ name: `${name}.toml`, title: title || name, meter, lines: [] }));
  }

  /** Lead sheets that are dropped: on the whole desk, or the browser would leave it for the file. */
  private drop(sheet: HTMLElement): void {
    const over = (on: boolean) => (event: DragEvent) => {
      if (![...(event.dataTransfer?.types ?? [])].includes("Files")) return;
      event.preventDefault();
      sheet.classList.toggle("over", on);
    };
    document.addEventListener("dragover", over(true));
    document.addEventListener("dragleave", over(false));
    document.addEventListener("drop", (event) => {
      over(false)(event);
      const files = [...(event.dataTransfer?.files ?? [])];
      if (files.length) void this.takeOver(files);
    });
  }

  /** What could not be taken over is said, with its bar. */
  private async takeOver(files: File[]): Promise<void> {
    const said: string[] = [];
    for (const file of files) {
      this.say(`Reading ${file.name}.`);
      try {
        const headers = { "content-type": "application/octet-stream" };
        const answer = await fetch(`/api/leadsheets?file=${named(file.name)}`, { method: "POST", headers, body: file });
        const found = (await answer.json()) as { tunes?: { name: string; title: string; notices: string[] }[]; problems: Problem[] };
        for (const tune of found.tunes ?? []) said.push(`${tune.title} is on the shelf.`, ...tune.notices);
        if (found.problems.length) said.push(`${file.name}: ${told(found.problems)}`);
        const [first, ...others] = found.tunes ?? [];
        await this.refresh();
        if (first && !others.length && files.length === 1) this.onOpen(first.name, false);
      } catch (error) {
        said.push((error as Error).message);
      }
    }
    part<HTMLInputElement>("leadsheet").value = "";
    part("taken").replaceChildren(...said.filter(Boolean).map((words) => make("li", {}, words)));
    this.say(said[0] ?? "");
  }

  private async createStyle(): Promise<void> {
    const field = part<HTMLInputElement>("style-title");
    const title = field.value.trim();
    if (!title) return field.focus();
    try {
      const like = part<HTMLSelectElement>("style-like").value;
      const { text } = await ask<{ text: string }>("GET", `/api/styles/${named(like)}/text`);
      const changed = await ask<{ text: string }>("POST", "/api/change", { text, path: ["title"], value: title });
      const { name } = await ask<{ name: string }>("POST", "/api/tunes", { title, text: changed.text });
      field.value = "";
      await this.refresh();
      this.onOpen(name, true);
    } catch (error) {
      this.say((error as Error).message);
    }
  }

  async refresh(): Promise<TuneRow[]> {
    const { tunes, styles } = await ask<{ tunes: TuneRow[]; styles: StyleFile[] }>("GET", "/api/tunes");
    this.rows = tunes;
    this.styles = styles;
    this.draw();
    return tunes;
  }

  mark(name: string): void {
    this.open = name;
    this.draw();
  }

  private async create(): Promise<void> {
    const field = part<HTMLInputElement>("new-title");
    const title = field.value.trim();
    if (!title) return field.focus();
    try {
      const { name } = await ask<{ name: string }>("POST", "/api/tunes", { title });
      field.value = "";
      await this.refresh();
      this.onOpen(name, true);
    } catch (error) {
      this.say((error as Error).message);
    }
  }

  private draw(): void {
    const wanted = part<HTMLInputElement>("search").value.trim().toLowerCase();
    const found = this.rows.filter((row) =>
      [row.title, row.name, row.key, row.meter, row.style].join(" ").toLowerCase().includes(wanted),
    );
    const shown = this.all || wanted ? found : found.slice(0, FEW);
    const focus = (document.activeElement as HTMLElement | null)?.dataset.name;
    part("tunes").replaceChildren(...shown.map((row) => this.line(row)));
    const more = found.length - shown.length;
    part("all-tunes").hidden = more === 0;
    write(part("all-tunes"), `all ${found.length} tunes`);
    const none = this.rows.length === 0 ? "There is no tune in this folder yet. Write a title and begin one." : "No tune is called that.";
    write(part("no-tunes"), found.length ? "" : none);
    part("styles").replaceChildren(...this.styles.map((style) => this.styleLine(style)));
    if (focus) part("shelf").querySelector<HTMLElement>(`[data-name="${CSS.escape(focus)}"]`)?.focus({ preventScroll: true });
  }

  private styleLine(style: StyleFile): HTMLElement {
    const button = make(
      "button",
      { type: "button", class: "tune-line", "data-name": style.name, "aria-current": style.name === this.open && "true" },
      make("span", { class: "title", dir: "auto" }, style.title || style.name),
      make("span", { class: "facts" }, `a style of one's own, in ${style.meter}`),
    );
    button.addEventListener("click", () => this.onOpen(style.name, false));
    return make("li", {}, button);
  }

  private line(row: TuneRow): HTMLElement {
    const facts = [real(row.key), row.meter, row.tempo ? `${row.tempo} a minute` : "", row.style.replace(/\.toml$/, "")];
    const kinds = row.made.map((kind) => WORDS[kind] ?? kind).join(", ");
    const made = kinds ? `made ${since(row.made_when)}: ${kinds}` : "";
    const button = make(
      "button",
      { type: "button", class: "tune-line", "data-name": row.name, "aria-current": row.name === this.open && "true" },
      make("span", { class: "title", dir: "auto" }, row.title),
      make("span", { class: "facts" }, row.wrong ? row.wrong : facts.filter(Boolean).join(" · ")),
      make("span", { class: "made" }, made),
      make("time", { class: "when", datetime: row.changed }, since(row.changed)),
    );
    button.addEventListener("click", () => this.onOpen(row.name, false));
    return make("li", {}, button);
  }
}

/** How long ago something was, in words that need no clock. */
function since(time: string): string {
  const minutes = Math.round((Date.now() - Date.parse(time)) / 60_000);
  if (!(minutes >= 1)) return "just now";
  if (minutes < 60) return minutes === 1 ? "a minute ago" : `${minutes} minutes ago`;
  if (minutes < 24 * 60) return minutes < 120 ? "an hour ago" : `${Math.floor(minutes / 60)} hours ago`;
  return new Date(time).toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" });
}
