// The shelf: the tunes of the folder, one line each; search, a new one, a lead sheet dropped on it.

import { ask, type TuneRow } from "./ask";
import { make, part, write } from "./dom";

const FEW = 12; // lines that are shown before all are asked for

export class ShelfSheet {
  private rows: TuneRow[] = [];
  private all = false;
  private open = "";

  constructor(
    private readonly onOpen: (name: string) => void,
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
  }

  async refresh(): Promise<TuneRow[]> {
    const { tunes } = await ask<{ tunes: TuneRow[] }>("GET", "/api/tunes");
    this.rows = tunes;
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
      this.onOpen(name);
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
    part("tunes").replaceChildren(...shown.map((row) => this.line(row)));
    const more = found.length - shown.length;
    part("all-tunes").hidden = more === 0;
    write(part("all-tunes"), `all ${found.length} tunes`);
    const none = this.rows.length === 0 ? "There is no tune in this folder yet. Write a title and begin one." : "No tune is called that.";
    write(part("no-tunes"), found.length ? "" : none);
  }

  private line(row: TuneRow): HTMLElement {
    const facts = [row.key, row.meter, row.tempo ? `${row.tempo} a minute` : "", row.style];
    const made = row.made.length ? `made: ${row.made.join(", ")}` : "";
    const button = make(
      "button",
      { type: "button", class: "tune-line", "data-name": row.name, "aria-current": row.name === this.open && "true" },
      make("span", { class: "title", dir: "auto" }, row.title),
      make("span", { class: "facts" }, row.wrong ? row.wrong : facts.filter(Boolean).join(" · ")),
      make("span", { class: "made" }, made),
      make("time", { class: "when", datetime: row.changed }, since(row.changed)),
    );
    button.addEventListener("click", () => this.onOpen(row.name));
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
