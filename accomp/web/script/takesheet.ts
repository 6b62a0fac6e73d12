// To take away: what to make, how far it is, and what lies there.

import { ask, part as name, told, type Job, type MadeRow } from "./ask";
import { make, part, write } from "./dom";

/** What is made, in words. */
export const WORDS: Record<string, string> = {
  pdf: "printed pages", page: "practice page", midi: "MIDI", musicxml: "MusicXML", audio: "sound", cue: "cue sheet",
};

export class TakeSheet {
  private readonly jobs = new Map<number, Job>();

  constructor(
    private readonly order: () => Record<string, unknown> & { title: string },
    private readonly say: (words: string) => void,
  ) {
    part<HTMLFormElement>("take-form").addEventListener("submit", (event) => {
      event.preventDefault();
      void this.make();
    });
    part("make-book").addEventListener("click", () => {
      ask("POST", "/api/book").catch((error: Error) => this.say(error.message));
    });
  }

  private async make(): Promise<void> {
    const form = new FormData(part<HTMLFormElement>("take-form"));
    const only = form.getAll("kind").map(String);
    const pack = form.get("pack") !== null;
    if (!only.length) return this.say("Choose what is to be made.");
    const words = (pack ? "a practice pack: " : "") + only.map((kind) => WORDS[kind] ?? kind).join(", ");
    const { options, ...rest } = this.order() as { options: Record<string, unknown>; title: string };
    const paper = String(form.get("paper") ?? "a4");
    try {
      await ask("POST", "/api/jobs", { ...rest, words, options: { ...options, only, pack, paper } });
    } catch (error) {
      this.say((error as Error).message);
    }
  }

  async refresh(): Promise<void> {
    const { jobs } = await ask<{ jobs: Job[] }>("GET", "/api/jobs");
    this.jobs.clear();
    jobs.forEach((job) => this.jobs.set(job.number, job));
    this.draw();
    await this.refreshBook();
  }

  /** What lies there of the whole shelf. */
  async refreshBook(): Promise<void> {
    const book = await ask<{ name: string; made: MadeRow[] }>("GET", "/api/book");
    part("book-files").replaceChildren(...book.made.map((file) => this.file(book.name, file)));
  }

  told(job: Job): void {
    this.jobs.set(job.number, job);
    this.draw();
  }

  private draw(): void {
    const rows = [...this.jobs.values()].sort((a, b) => b.number - a.number).slice(0, 8);
    const focus = (document.activeElement as HTMLElement | null)?.dataset.job;
    part("jobs").replaceChildren(...rows.map((job) => this.row(job)));
    if (focus) part("jobs").querySelector<HTMLElement>(`[data-job="${focus}"]`)?.focus();
  }

  private row(job: Job): HTMLElement {
    const percent = Math.round(job.share * 100);
    const states = {
      waiting: "waits its turn",
      working: job.doing ? `${percent} %, now ${job.doing}` : "is beginning",
      done: "is made",
      stopped: "was stopped; what was there is as it was, and what is finished need not be made again",
      wrong: told(job.problems),
    };
    const row = make(
      "li",
      { class: `job ${job.state}` },
      make("p", {}, make("span", { dir: "auto" }, job.title), `: ${job.words} `, make("span", { class: "state" }, states[job.state])),
      ...(job.notices.length ? [make("p", { class: "label" }, job.notices.join(" "))] : []),
    );
    if (job.state === "working" || job.state === "waiting") {
      const bar = make("progress", { max: 1, value: job.share, "aria-label": `how far ${job.title} is` });
      const stop = make("button", { type: "button", "data-job": job.number }, "stop");
      stop.addEventListener("click", () => {
        ask("DELETE", `/api/jobs/${job.number}`).catch((error: Error) => this.say(error.message));
      });
      row.append(bar, stop);
    }
    return row;
  }

  private file(tune: string, file: MadeRow): HTMLElement {
    const href = `/api/tunes/${name(tune)}/made/${name(file.file)}`;
    const link = make("a", { href, target: "_blank", rel: "noopener" }, file.file);
    const facts = [WORDS[file.kind] ?? file.kind, size(file.bytes), file.newest ? "" : "made before"];
    return make("li", {}, link, " ", make("span", { class: "label" }, facts.filter(Boolean).join(" · ")));
  }

  /** What lies in the folder of a tune. */
  files(tune: string, files: MadeRow[], folder: string): void {
    part("files").replaceChildren(...files.map((file) => this.file(tune, file)));
    write(part("files-where"), files.length ? `They lie in the folder ${folder}/${tune}.` : "Nothing has been made of this tune yet.");
  }
}

function size(bytes: number): string {
  if (bytes < 1e6) return `${Math.max(1, Math.round(bytes / 1000))} kB`;
  return `${(bytes / 1e6).toFixed(1)} MB`;
}
