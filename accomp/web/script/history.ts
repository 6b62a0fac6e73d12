// What was written before: undo and redo, back to what was saved before this page was opened.

export class History {
  private before: string[] = [];
  private after: string[] = [];
  private older: number[] | null = null; // versions on the shelf, the newest first

  constructor(
    private current: string,
    private readonly versions: () => Promise<number[]>,
    private readonly version: (number: number) => Promise<string>,
  ) {}

  /** The text now, at a moment at which somebody may want to come back. */
  note(text: string): void {
    if (text === this.current) return;
    this.before.push(this.current);
    if (this.before.length > 500) this.before.shift();
    this.after = [];
    this.current = text;
  }

  /** The text before, null where there is none. */
  async undo(): Promise<string | null> {
    let text = this.before.pop() ?? null;
    if (text === null) {
      this.older ??= await this.versions();
      while (text === null || text === this.current) {
        const number = this.older.shift();
        if (number === undefined) return null;
        text = await this.version(number);
      }
    }
    this.after.push(this.current);
    this.current = text;
    return text;
  }

  redo(): string | null {
    const text = this.after.pop() ?? null;
    if (text === null) return null;
    this.before.push(this.current);
    this.current = text;
    return text;
  }

  /** What was saved from here is on the shelf too: it is not to be offered twice. */
  async open(): Promise<void> {
    this.older = await this.versions();
  }
}
