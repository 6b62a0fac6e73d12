// The desk: its sheets put together, one tune open on it.

import { ask, Away, Latest, part as name, Refused, told, type Field, type Heard, type Job, type Judged, type JudgedStyle, type OneTune, type Placed, type Problem } from "./ask";
import { BandSheet, type StyleRow } from "./bandsheet";
import { Bars } from "./bars";
import { make, part, write } from "./dom";
import { DeskFoot } from "./deskfoot";
import { Fields, type Choices } from "./fields";
import { Hearing } from "./hearing";
import { History } from "./history";
import { listen } from "./keyboard";
import { NeckSheet } from "./necksheet";
import { hear } from "./news";
import { Said } from "./said";
import { Saver } from "./saver";
import { layOut, turn } from "./sheets";
import { ShelfSheet } from "./shelfsheet";
import { TakeSheet } from "./takesheet";
import { Words } from "./words";

const PAUSE_MS = 600; // of typing, after which a step back leads here
const QUIET_MS = 1200; // after which what would be heard is asked for

interface Wanted {
  keys?: string[];
  instrument?: string;
  hand?: string;
  style?: string;
}

class Desk {
  tune: OneTune | null = null;
  wanted: Wanted = {};
  position = "";
  leftHanded = false;
  judged: Judged | null = null;
  placed: Placed | null = null;
  choices: Choices & { styles: StyleRow[] } = { major: [], minor: [], meters: [], instruments: [], hands: [], styles: [] };
  readonly readOnly = document.body.dataset.readOnly === "yes";
  readonly words = new Words(part<HTMLTextAreaElement>("words"), () => this.changed());
  readonly saver = new Saver(this);
  readonly fields = new Fields(this);
  history: History | null = null;
  private pause = 0;
  private coming = 0;
  readonly hearing = new Hearing({
    synth: document.body.dataset.synth ?? "",
    fetch: () => this.fetchSound(),
    changed: () => this.foot.draw(),
    at: (bar, share, counting) => this.follow(bar, share, counting),
  });
  readonly bars = new Bars(this.hearing);
  readonly foot = new DeskFoot(this);
  readonly said = new Said();
  readonly shelf = new ShelfSheet((tune, begun) => void this.open(tune, begun ? "words" : "title"), (words) => this.say(words));
  readonly neck = new NeckSheet(this.neckWishes());
  readonly band = new BandSheet(
    this.hearing,
    () => this.styles,
    (style) => this.want({ style: style ?? undefined }),
    () => void this.keepStyle(),
  );
  readonly take = new TakeSheet(() => this.order(), (words) => this.say(words));
  private readonly judging = new Latest<Judged>(
    () => (this.tune && !this.isStyle ? ask("POST", "/api/judge", this.question()) : null),
    (judged) => this.takeJudged(judged),
    (error) => this.failed(error),
  );
  private readonly judgingStyle = new Latest<JudgedStyle>(
    () => (this.isStyle ? ask("POST", "/api/style", this.question()) : null),
    (judged) => this.takeStyle(judged),
    (error) => this.failed(error),
  );
  private readonly placing = new Latest<Placed>(
    () => (this.tune && !this.isStyle ? ask("POST", "/api/neck", this.question()) : null),
    (placed) => {
      if (placed.problems.length) return this.unplaced(placed.problems);
      this.placed = placed;
      this.neck.show(placed);
      this.fields.place(placed);
    },
    (error) => this.failed(error),
  );

  async start(): Promise<void> {
    hear(this);
    for (const way of document.querySelectorAll<HTMLAnchorElement>(".ways a"))
      way.addEventListener("click", (event) => {
        event.preventDefault();
        turn(way.hash.slice(1));
      });
    listen(this);
    const opened = new URLSearchParams(location.search).get("tune");
    try {
      await Promise.all([this.shelf.refresh(), this.take.refresh()]);
      if (opened) await this.open(opened, "");
      this.choices = await ask("GET", "/api/choices");
      this.fields.offer(this.choices);
      const like = this.choices.styles.map((style) => make("option", { value: style.name }, `${style.title}, ${style.meter}`));
      part("style-like").replaceChildren(...like);
      this.drawBand();
      document.documentElement.dataset.ready = "yes";
    } catch (error) {
      this.failed(error);
    }
  }

  /** Whether what is open is a style and no tune. */
  get isStyle(): boolean {
    return this.tune?.kind === "style";
  }

  say(words: string): void {
    this.said.say(words);
  }

  /** The styles that come with the program, and those of the shelf. */
  get styles(): StyleRow[] { return [...this.choices.styles, ...this.shelf.own]; }

  /** Open a tune; what was open is saved first. `go` is what is turned to and has the keyboard. */
  async open(tune: string, go: "title" | "words" | "" = "title"): Promise<void> {
    this.said.next();
    await this.saver.flush();
    let found: OneTune;
    try {
      found = await ask<OneTune>("GET", `/api/tunes/${name(tune)}`);
    } catch (error) {
      this.failed(error);
      return;
    }
    this.hearing.stop();
    this.tune = found;
    this.wanted = {};
    this.position = "";
    this.judged = this.placed = null;
    this.words.mark([]);
    this.words.text = found.text;
    this.saver.opened(found);
    const address = `/api/tunes/${name(tune)}/earlier`;
    this.history = new History(
      found.text,
      async () => (await ask<{ versions: { number: number }[] }>("GET", address)).versions.map((one) => one.number),
      async (number) => (await ask<{ text: string }>("GET", `${address}/${number}`)).text,
    );
    void this.history.open();
    layOut(this.isStyle);
    this.neck.close();
    this.bars.clear();
    history.replaceState(null, "", `/?tune=${name(tune)}`);
    this.shelf.mark(tune);
    this.fields.opened();
    this.lay(found);
    this.hearing.timeline = null;
    part("count").replaceChildren();
    this.hearing.speed = 1;
    this.hearing.setLoop(null, 0);
    await this.renew();
    if (go) turn("tune");
    if (go === "words") this.words.begin();
    else if (go) part("tune-title").focus({ preventScroll: true });
    this.prepare();
    document.documentElement.dataset.tune = tune;
  }

  /** A while after the last change, what would be heard is asked for. */
  private prepare(): void {
    clearTimeout(this.coming);
    this.coming = window.setTimeout(() => void this.hearing.prepare().catch(() => undefined), QUIET_MS);
  }

  lay(found: OneTune): void {
    this.take.files(found.name, found.made, document.body.dataset.folder ?? "");
  }

  /** The words have been changed by hand. */
  private changed(): void {
    this.said.next();
    this.saver.changed();
    clearTimeout(this.pause);
    this.pause = window.setTimeout(() => this.history?.note(this.words.text), PAUSE_MS);
    void this.renew();
  }

  /** Put other words in place of what is there, as one step that can be undone. */
  put(text: string): void {
    this.said.next();
    this.history?.note(this.words.text);
    this.words.text = text;
    this.history?.note(text);
    this.saver.changed();
    void this.renew();
  }

  /** Everything that is seen and heard follows the words. */
  private async renew(): Promise<void> {
    const all = [this.judging.wish(), this.judgingStyle.wish(), this.placing.wish()];
    await Promise.all([...all, this.hearing.renew(false)]);
  }

  private want(some: Partial<Wanted>): void {
    this.wanted = { ...this.wanted, ...some };
    void this.placing.wish();
    this.drawBand();
    this.hearing.renew(true).catch((error: unknown) => this.failed(error));
  }

  choose(some: { keys?: string[]; instrument?: string; hand?: string }): void {
    this.position = "";
    this.neck.close(); // what is open is of another key or neck
    this.want(some);
  }

  question(): Record<string, unknown> {
    return { text: this.words.text, name: this.tune?.name ?? "tune", options: { ...this.wanted } };
  }

  private fetchSound(): Promise<Heard> {
    if (this.isStyle) return ask("POST", "/api/sound", { ...this.question(), kind: "style" });
    const positions = this.position ? { positions: [this.position] } : {};
    const options = { ...this.wanted, ...positions, choruses: 1 };
    return ask("POST", "/api/sound", { ...this.question(), options });
  }

  private order(): Record<string, unknown> & { title: string } {
    const positions = this.position ? { positions: [this.position] } : {};
    const title = String(this.judged?.fields?.title ?? this.tune?.name ?? "");
    return { ...this.question(), title, options: { ...this.wanted, ...positions } };
  }

  /** Change one value of the file. */
  async change(path: string[], value: Field): Promise<void> {
    try {
      let text: string;
      let made: { text: string };
      do {
        text = this.words.text;
        made = await ask<{ text: string }>("POST", "/api/change", { text, path, value });
      } while (text !== this.words.text); // somebody has typed meanwhile
      this.put(made.text);
    } catch (error) {
      this.failed(error);
    }
  }

  private async keepStyle(): Promise<void> {
    const { style } = this.wanted;
    if (!style) return;
    await this.change(["style"], style);
    this.want({ style: undefined });
  }

  private takeJudged(judged: Judged): void {
    this.judged = judged;
    this.fields.show(judged);
    this.mark(judged.problems, ["This can be played.", ...judged.notices].join(" "));
    if (judged.chart) this.bars.show(judged.chart);
    this.drawBand();
    this.foot.draw();
    if (!judged.problems.length) this.prepare();
  }

  /** A style as it is written now: while it is heard, from the next bar line on. */
  private takeStyle(judged: JudgedStyle): void {
    this.mark(judged.problems, "This can be played.");
    write(part("tune-title"), String(/^title\s*=\s*"(.*)"/m.exec(this.words.text)?.[1] ?? this.tune?.name ?? ""));
    if (judged.problems.length) return;
    this.band.words(judged.lines);
    this.hearing.renew(true).catch((error: unknown) => this.failed(error));
  }

  /** Said where the positions stand, unless the words say it already. */
  private unplaced(problems: Problem[]): void {
    const before = "The words cannot be played as they stand. These are the positions of the last ones that could.";
    write(part("neck-notices"), this.judged?.problems.length ? before : told(problems));
  }

  private mark(problems: Problem[], good: string): void {
    this.words.mark(problems);
    const list = problems.map((one) => {
      const where = one.line ? `line ${one.line}: ` : "";
      const button = make("button", { type: "button" }, `${where}${told([one])}`);
      button.addEventListener("click", () => this.words.go(one.line ?? 1, one.column ?? 1));
      return make("li", {}, button);
    });
    part("problems").replaceChildren(...list);
    write(part("good"), list.length ? "" : good);
  }

  private neckWishes(): ConstructorParameters<typeof NeckSheet>[0] {
    const desk = this;
    return {
      question: () => desk.question(),
      get chosen() { return desk.position; },
      get leftHanded() { return desk.leftHanded; },
      choose(position: string): void {
        desk.position = position;
        desk.neck.draw();
        desk.hearing.renew(true).catch((error: unknown) => desk.failed(error));
      },
      pin: (chord, frets) => void desk.change(["shapes", chord], frets),
      mayPin: () => {
        if (desk.readOnly) return "This desk is for reading only.";
        if (desk.wanted.keys) return "Shapes are pinned in the tune's own key.";
        return desk.wanted.instrument ? "Shapes are pinned on the tune's own instrument." : "";
      },
    };
  }

  private follow(bar: number, share: number, counting: boolean): void {
    this.bars.mark(bar);
    this.band.at(bar, share);
    part("foot").classList.toggle("counting", counting);
    const heard = Math.round(this.hearing.heard);
    write(part("beats"), String(heard));
  }

  private drawBand(): void {
    const fields = this.judged?.fields;
    if (fields) this.band.offer(String(fields.meter ?? ""), String(fields.style ?? ""), this.wanted.style ?? null);
  }

  toggle(): void {
    if (!this.tune) return this.say("Open a tune first.");
    if (!this.hearing.busy) this.say("");
    this.hearing.toggle().catch((error: unknown) => this.failed(error));
  }

  async undo(): Promise<void> {
    clearTimeout(this.pause);
    this.history?.note(this.words.text);
    try {
      const text = await this.history?.undo();
      if (text == null) this.say("There is nothing before this.");
      else this.back(text, "One step back.");
    } catch (error) {
      this.failed(error);
    }
  }

  back(text: string, words: string): void {
    this.words.text = text;
    this.saver.changed();
    this.say(words);
    void this.renew();
  }

  async catchUp(): Promise<void> {
    try {
      await Promise.all([this.shelf.refresh(), this.take.refresh()]);
      if (this.tune) await this.moved({ changed: [this.tune.name] });
      this.saver.changed();
      await this.renew();
    } catch (error) {
      this.failed(error);
    }
  }

  async job(job: Job): Promise<void> {
    this.take.told(job);
    if (job.state !== "done") return;
    void this.shelf.refresh().catch(() => undefined);
    void this.take.refreshBook().catch(() => undefined);
    if (job.tune === this.tune?.name) this.lay(await ask<OneTune>("GET", `/api/tunes/${name(job.tune)}`));
  }

  async moved({ changed }: { changed: string[] }): Promise<void> {
    void this.shelf.refresh().catch(() => undefined);
    if (this.tune && changed.includes(this.tune.name)) await this.saver.moved();
  }

  /** The file is as somebody else wrote it, and nothing was written here meanwhile. */
  followFile(text: string): void {
    this.history?.note(this.words.text);
    this.words.text = text;
    this.history?.note(text);
    this.say("The file was changed on disk; this is what it says now. Undo brings back what was here.");
    void this.renew();
  }

  away(): void {
    document.documentElement.dataset.desk = "away";
    this.say("The desk does not answer. Is it still open where it was started? What is written here stays here, and is saved when it answers again.");
  }

  failed(error: unknown): void {
    if (error instanceof Away) this.away();
    else if (error instanceof Refused && error.status === 403)
      this.say(`${error.message} What is written here stays here.`);
    else this.say(error instanceof Error ? error.message : String(error));
  }
}

export type { Desk };

const desk = new Desk();
void desk.start();

// For whoever wants to look at the desk from outside, tests before all.
Object.assign(globalThis, { desk });
