// What the desk says at its head: one sentence, which goes when what it is about is over.

import { part, write } from "./dom";

export class Said {
  private doing = ""; // what is said of work that is going on

  say(words: string): void {
    this.doing = "";
    write(part("said"), words);
  }

  /** How far some work is; when it is over, nothing more is said of it. */
  work(what: string, share: number): void {
    const there = part("said").textContent ?? "";
    if (share >= 1) {
      if (this.doing !== "" && there === this.doing) this.say("");
      return;
    }
    const words = `${what}: ${Math.round(share * 100)} %`;
    this.say(words);
    this.doing = words;
  }

  /** The next thing is done: what was said of the one before has been read. */
  next(): void {
    if (this.doing === "" && document.documentElement.dataset.desk !== "away") this.say("");
  }
}
