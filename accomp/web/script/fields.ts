// The head of a tune as fields, which write the same file; and who plays it in which key.

import type { Field, Judged, Placed } from "./ask";
import type { Desk } from "./desk";
import { make, part, write } from "./dom";

export interface Choices {
  major: string[];
  minor: string[];
  meters: string[];
  instruments: { name: string; title: string }[];
  hands: string[];
}

const TEXTS = ["title", "composer"] as const;

export class Fields {
  constructor(private readonly desk: Desk) {
    for (const field of TEXTS) this.take(field, (text) => text || null);
    this.take("key", (text) => text || null);
    this.take("meter", (text) => text || null);
    this.take("tempo", (text) => (text === "" ? null : Number(text)));
    this.take("style", (text) => text || null);
    this.take("begin", (text) => text || null);
    this.take("end", (text) => text || null);
    this.take("form", sections);
    const key = part<HTMLSelectElement>("in-key");
    key.addEventListener("change", () => desk.choose({ keys: key.value ? [key.value] : undefined }));
    for (const [id, option] of [["on-instrument", "instrument"], ["with-hand", "hand"]] as const) {
      const select = part<HTMLSelectElement>(id);
      select.addEventListener("change", () => desk.choose({ [option]: select.value || undefined }));
    }
    const left = part<HTMLInputElement>("left-handed");
    left.addEventListener("change", () => {
      desk.leftHanded = left.checked;
      desk.neck.draw();
    });
  }

  private take(field: string, value: (text: string) => Field): void {
    const input = part<HTMLInputElement>(`field-${field}`);
    input.disabled = this.desk.readOnly;
    input.addEventListener("change", () => {
      const made = value(input.value.trim());
      void this.desk.change([field], Array.isArray(made) && !made.length ? null : made);
    });
  }

  /** Fill the lists that do not depend on a tune. */
  offer(choices: Choices): void {
    fill("field-meter", choices.meters.map((meter) => [meter, meter]), false);
    fill("on-instrument", [["", "the tune's instrument"], ...choices.instruments.map((one) => [one.name, one.title] as Row)], true);
    fill("with-hand", [["", "a medium hand"], ...choices.hands.filter((hand) => hand !== "medium").map((hand) => [hand, `a ${hand} hand`] as Row)], true);
    if (this.desk.judged) this.show(this.desk.judged);
  }

  opened(): void {
    for (const id of ["in-key", "on-instrument", "with-hand"]) part<HTMLSelectElement>(id).value = "";
  }

  /** Show what the file says. */
  show(judged: Judged): void {
    const { fields } = judged;
    const can = fields !== null && !this.desk.readOnly;
    for (const field of [...TEXTS, "key", "meter", "tempo", "style", "begin", "end", "form"])
      part<HTMLInputElement>(`field-${field}`).disabled = !can;
    write(part("fields-why"), fields === null ? "The fields come back when the text can be read." : "");
    if (!fields) return;
    const minor = String(fields.key ?? "").endsWith("m");
    const keys = minor ? this.desk.choices.minor : this.desk.choices.major;
    const every = [...this.desk.choices.major, ...this.desk.choices.minor];
    fill("field-key", every.map((key) => [key, real(key)]), false);
    fill("in-key", [["", `as written, ${real(String(fields.key ?? ""))}`], ...keys.map((key) => [key, real(key)] as Row)], true);
    const meter = String(fields.meter ?? "");
    const styles = this.desk.styles.filter((style) => style.meter === meter);
    fill("field-style", [["", "a plain one"], ...styles.map((style) => [style.name, style.title] as Row)], false);
    for (const [field, found] of Object.entries(fields)) {
      const input = document.getElementById(`field-${field}`) as HTMLInputElement | HTMLSelectElement | null;
      if (!input || document.activeElement === input) continue;
      const text = Array.isArray(found) ? listed(found) : found === null ? "" : String(found);
      if (input instanceof HTMLSelectElement && ![...input.options].some((one) => one.value === text))
        input.append(make("option", { value: text }, text));
      input.value = text;
    }
    const title = String(fields.title ?? "");
    write(part("tune-title"), title || this.desk.tune?.name || "");
    document.title = `${title || "desk"}: accomp`;
  }

  place(placed: Placed): void {
    write(part("neck-sub"), `${placed.key} · ${placed.instrument.toLowerCase()}`);
  }
}

type Row = [string, string];

/** The entries of a list; what was chosen stays chosen where it is still there. */
function fill(id: string, rows: Row[], keep: boolean): void {
  const select = part<HTMLSelectElement>(id);
  const scene = JSON.stringify(rows);
  if (select.dataset.rows === scene) return;
  select.dataset.rows = scene;
  const before = select.value;
  select.replaceChildren(...rows.map(([value, words]) => make("option", { value }, words)));
  if (keep || rows.some(([value]) => value === before)) select.value = before;
}

/** Sections in order as they are typed: between commas, or words and how often, as `3 x Chorus`. */
function sections(text: string): string[] {
  const parts = text.includes(",") ? text.split(",") : (text.match(/\d+\s*[x×]\s*\S+|\S+/g) ?? []);
  return parts.map((one) => one.trim().replace(/\s+/g, " ")).filter(Boolean);
}

/** The same in a line that is read as it was meant. */
function listed(names: string[]): string {
  const plain = names.join(" ");
  if (JSON.stringify(sections(plain)) === JSON.stringify(names)) return plain;
  return names.length > 1 ? names.join(", ") : `${plain},`;
}

/** A key with its own signs. */
export function real(key: string): string {
  return key.slice(0, 1) + key.slice(1).replace("b", "♭").replace("#", "♯");
}
