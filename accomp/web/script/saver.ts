// Saving: a moment after the last change, on condition that the file is as it was last seen.

import { ask, Away, part as name, Refused, type OneTune } from "./ask";
import type { Desk } from "./desk";
import { part, write } from "./dom";

const WAIT_MS = 900;
const SITTING_MS = 60_000; // what one hand saves within this time is one version to come back to

interface Theirs {
  text: string;
  sha256: string;
}

export class Saver {
  private saved = "";
  private sha256 = "";
  private timer = 0;
  private kept = -Infinity; // when a version was kept last, by this page's clock
  private saving: Promise<void> | null = null;
  private clash: Theirs | null = null;

  constructor(private readonly desk: Desk) {
    part("keep-mine").addEventListener("click", () => this.keepMine());
    part("take-theirs").addEventListener("click", () => this.takeTheirs());
    addEventListener("pagehide", () => this.last());
  }

  opened(tune: OneTune): void {
    clearTimeout(this.timer);
    this.saved = tune.text;
    this.sha256 = tune.sha256;
    this.kept = -Infinity;
    this.over();
    this.tell("saved");
  }

  private get unsaved(): boolean {
    return this.desk.tune !== null && !this.desk.readOnly && this.desk.words.text !== this.saved;
  }

  /** The words may have changed: they are saved soon. */
  changed(): void {
    if (this.desk.readOnly) return this.tell("for reading only: nothing is saved");
    if (this.clash) return;
    if (!this.unsaved) return this.tell("saved");
    this.tell("not saved yet");
    clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.flush(), WAIT_MS);
  }

  /** Save now what is not saved. */
  async flush(): Promise<void> {
    clearTimeout(this.timer);
    await this.saving;
    if (!this.unsaved || this.clash) return;
    this.saving = this.save().finally(() => (this.saving = null));
    await this.saving;
  }

  private async save(): Promise<void> {
    const { tune, words } = this.desk;
    if (!tune) return;
    const text = words.text;
    this.tell("saving");
    try {
      const again = performance.now() - this.kept < SITTING_MS;
      const body = { text, sha256: this.sha256, again };
      const { sha256 } = await ask<{ sha256: string }>("PUT", `/api/tunes/${name(tune.name)}`, body);
      this.saved = text;
      this.sha256 = sha256;
      if (!again) this.kept = performance.now();
      this.changed();
    } catch (error) {
      if (error instanceof Refused && error.status === 409) this.both(error.body.theirs as Theirs | null);
      else {
        this.tell("not saved");
        if (error instanceof Away) this.timer = window.setTimeout(() => void this.flush(), 3000);
        this.desk.failed(error);
      }
    }
  }

  /** The page is left: what can still be sent is sent. */
  private last(): void {
    const tune = this.desk.tune;
    if (!this.unsaved || this.clash || !tune) return;
    const body = JSON.stringify({ text: this.desk.words.text, sha256: this.sha256 });
    const headers = { "content-type": "application/json" };
    void fetch(`/api/tunes/${name(tune.name)}`, { method: "PUT", headers, body, keepalive: true }).catch(() => undefined);
  }

  /** The file has changed on disk, by whoever. */
  async moved(): Promise<void> {
    await this.saving;
    const tune = this.desk.tune;
    if (!tune) return;
    let there: OneTune;
    try {
      there = await ask<OneTune>("GET", `/api/tunes/${name(tune.name)}`);
    } catch (error) {
      if (error instanceof Refused && error.status === 404)
        this.desk.say("The file of this tune is gone. What is written here stays here: copy it, or begin a new tune with it.");
      return;
    }
    if (this.desk.tune?.name !== there.name || there.sha256 === this.sha256) return;
    if (this.unsaved && there.text !== this.desk.words.text) return this.both(there);
    const other = there.text !== this.desk.words.text;
    this.saved = there.text;
    this.sha256 = there.sha256;
    this.kept = -Infinity; // what somebody else wrote is a version of its own
    if (other) this.desk.followFile(there.text);
    this.changed();
  }

  /** Both versions are shown; nothing is written until one is chosen. */
  private both(theirs: Theirs | null): void {
    this.tell("not saved: somebody else has changed the file");
    if (theirs === null) return;
    this.clash = theirs;
    write(part("mine-text"), this.desk.words.text);
    write(part("theirs-text"), theirs.text);
    part("clash").hidden = false;
    part("keep-mine").focus();
  }

  private over(): void {
    this.clash = null;
    part("clash").hidden = true;
  }

  private keepMine(): void {
    if (!this.clash) return;
    this.sha256 = this.clash.sha256; // seen now; the shelf keeps it among the versions before
    this.saved = this.clash.text;
    this.kept = -Infinity;
    this.over();
    void this.flush();
  }

  private takeTheirs(): void {
    if (!this.clash) return;
    const { text, sha256 } = this.clash;
    this.over();
    this.saved = text;
    this.sha256 = sha256;
    this.kept = -Infinity;
    this.desk.put(text);
  }

  private tell(words: string): void {
    write(part("saved"), words);
  }
}
