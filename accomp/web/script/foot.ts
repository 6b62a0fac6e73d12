// The foot: play, speed, loop, mix, and what else can be chosen.

import { chosenWords } from "./choice";
import { make, part, write } from "./dom";
import type { Page } from "./main";
import { FASTEST, SLOWEST } from "./settings";
import { canSpeak } from "./speech";

const FADERS = [
  ["me", "me"], ["bass", "bass"], ["drums", "drums"], ["comping", "comping"],
  ["melody", "melody"], ["click", "click"],
] as const;

export class Foot {
  private readonly play = part<HTMLButtonElement>("play");
  private readonly speed = part<HTMLInputElement>("speed");
  private shownTempo = 0;

  constructor(private readonly page: Page) {
    this.play.addEventListener("click", () => page.toggle());
    part("slower").addEventListener("click", () => this.faster(-2));
    part("faster").addEventListener("click", () => this.faster(2));
    part("more").addEventListener("click", () => this.more());
    for (const id of ["no-loop", "whole"])
      part(id).addEventListener("click", () => {
        page.chosen = null;
        page.change({ loop: null });
      });
    part("ask").addEventListener("click", () => this.help());
    part("print").addEventListener("click", () => print());
    this.faders();
    this.fields();
    this.fold();
    // A button that was pressed with the mouse does not keep the space bar for itself.
    document.addEventListener("click", (event) => {
      const target = event.target as HTMLElement;
      if (event.detail > 0 && target.matches("button:not(.bar)")) target.blur();
    });
  }

  /** On a phone, upright or on its side, only play, speed and what is looped stay outside the
   * drawer: a loop that is remembered from yesterday must not be a riddle. */
  private fold(): void {
    const narrow = matchMedia("(max-width: 639px), (max-height: 520px)");
    const put = (): void => {
      if (narrow.matches) part("rest").prepend(part("mix"));
      else part("more").before(part("mix"));
    };
    narrow.addEventListener("change", put);
    put();
  }

  private faders(): void {
    const { timeline, settings } = this.page;
    const groups = new Set<string>(["me", "click"]);
    for (const key of timeline.keys) for (const track of key.tracks) groups.add(track.group);
    for (const [group, name] of FADERS) {
      if (!groups.has(group)) continue;
      const value = Math.round((settings.mix[group] ?? 0) * 100);
      const input = make("input", { type: "range", min: 0, max: 100, step: 5, value, "data-group": group });
      input.addEventListener("input", () => {
        const mix = { ...this.page.settings.mix, [group]: Number(input.value) / 100 };
        this.page.change({ mix });
      });
      part("mix").append(make("label", {}, make("span", {}, name), input));
    }
  }

  private fields(): void {
    const { page } = this;
    const { timeline } = page;
    // In beats, as the tempo is: a step of a per cent may be too small to move a slow tune.
    this.speed.min = String(this.within(0));
    this.speed.max = String(this.within(1e6));
    this.speed.addEventListener("input", () => this.tempo(Number(this.speed.value)));
    this.number("loop-from", (bar) => {
      const last = page.settings.loop?.[1] ?? timeline.bars.length - 1;
      page.change({ loop: [bar - 1, Math.max(bar - 1, last)] });
    });
    this.number("loop-to", (bar) => {
      const first = page.settings.loop?.[0] ?? page.first;
      page.change({ loop: [Math.min(first, bar - 1), bar - 1] });
    });
    this.number("raise", (faster) => page.change({ faster }));
    this.number("up-to", (tempo) => page.change({ upTo: this.within(tempo) }));
    this.number("count-in", (countIn) => page.change({ countIn }));
    for (const [id, name] of [
      ["boxes", "boxes"], ["numbers", "numbers"], ["left-handed", "leftHanded"], ["say", "say"],
    ] as const) {
      const box = part<HTMLInputElement>(id);
      box.addEventListener("change", () => page.change({ [name]: box.checked }));
    }
    if (!canSpeak) part("say-label").hidden = true;
    const paper = part<HTMLSelectElement>("paper");
    paper.addEventListener("change", () => page.change({ paper: paper.value as "device" }));
    this.choices();
  }

  /** Positions and keys, where the page has several. */
  private choices(): void {
    const { page } = this;
    const { versions, keys } = page.timeline;
    const position = part<HTMLSelectElement>("position");
    position.addEventListener("change", () => page.change({ version: Number(position.value) }));
    const key = part<HTMLSelectElement>("key");
    keys.forEach((one, index) => key.append(make("option", { value: index }, one.name)));
    key.addEventListener("change", () => this.toKey(Number(key.value)));
    part("key-label").hidden = keys.length < 2;
    part("position-label").hidden = versions.length === keys.length;
  }

  private number(id: string, take: (value: number) => void): void {
    const input = part<HTMLInputElement>(id);
    input.addEventListener("change", () => {
      const value = Math.round(input.valueAsNumber);
      const [low, high] = [Number(input.min), Number(input.max)];
      if (Number.isFinite(value)) take(Math.min(high, Math.max(low, value)));
      this.refresh();
    });
  }

  private within(tempo: number): number {
    const { timeline } = this.page;
    const least = Math.ceil(timeline.tempo * SLOWEST);
    const most = Math.floor(timeline.tempo * FASTEST);
    return Math.min(most, Math.max(least, Math.round(tempo)));
  }

  private tempo(tempo: number): void {
    this.page.change({ tempo: this.within(tempo) });
  }

  /** So many beats a minute faster, or slower, than what is heard. */
  faster(beats: number): void {
    this.tempo(this.page.tempo + beats);
  }

  /** The n-th position of the key that is shown. */
  position(place: number): void {
    const { versions } = this.page.timeline;
    const key = versions[this.page.settings.version]!.key;
    const same = versions.flatMap((version, index) => (version.key === key ? [index] : []));
    const version = same[place];
    if (version !== undefined) this.page.change({ version });
  }

  nextKey(): void {
    const { keys, versions } = this.page.timeline;
    this.toKey((versions[this.page.settings.version]!.key + 1) % keys.length);
  }

  /** The same position in another key, or the first one there. */
  private toKey(key: number): void {
    const { versions } = this.page.timeline;
    const name = versions[this.page.settings.version]!.position;
    const there = versions.findIndex((one) => one.key === key && one.position === name);
    const version = there >= 0 ? there : versions.findIndex((one) => one.key === key);
    if (version >= 0) this.page.change({ version });
  }

  more(open?: boolean): void {
    const show = open ?? !part("foot").classList.contains("open");
    part("foot").classList.toggle("open", show);
    part("rest").hidden = !show;
    part("more").setAttribute("aria-expanded", String(show));
    write(part("more"), show ? "Less" : "More");
  }

  help(): void {
    part<HTMLDialogElement>("help").showModal();
  }

  /** While it plays: the speed that is heard now. */
  tell(tempo: number): void {
    if (Math.abs(tempo - this.shownTempo) > 0.01) this.refresh();
  }

  /** Show all settings as they are. */
  refresh(): void {
    const { page } = this;
    const { settings, timeline } = page;
    const tempo = page.tempo;
    this.shownTempo = tempo;
    write(this.play, page.busy ? "Stop" : "Play");
    this.play.disabled = page.player === null;
    const percent = Math.round((tempo / timeline.tempo) * 100);
    write(part("beats"), String(Math.round(tempo)));
    write(part("percent"), `${percent} %`);
    this.speed.value = String(Math.round(tempo));
    this.speed.setAttribute("aria-valuetext", `${Math.round(tempo)} beats a minute, ${percent} %`);
    write(part("round"), this.loopWords());
    write(part("whole"), settings.loop ? "whole tune" : "from the beginning");
    const bars = timeline.bars.length;
    this.field("loop-from", settings.loop ? settings.loop[0] + 1 : "", 1, bars);
    this.field("loop-to", settings.loop ? settings.loop[1] + 1 : "", 1, bars);
    this.field("raise", settings.faster, 0, 20);
    this.field("up-to", Math.round(settings.upTo), this.within(0), this.within(1e6));
    this.field("count-in", settings.countIn, 0, 2);
    part("loop").hidden = settings.loop === null && page.chosen === null;
    part<HTMLInputElement>("boxes").checked = settings.boxes;
    part<HTMLInputElement>("numbers").checked = settings.numbers;
    part<HTMLInputElement>("left-handed").checked = settings.leftHanded;
    part<HTMLInputElement>("say").checked = settings.say;
    part<HTMLSelectElement>("paper").value = settings.paper;
    this.refreshChoices();
  }

  private refreshChoices(): void {
    const { settings, timeline } = this.page;
    const { key } = timeline.versions[settings.version]!;
    const position = part<HTMLSelectElement>("position");
    const options = timeline.versions.flatMap((version, index) =>
      version.key === key ? [make("option", { value: index }, version.position)] : [],
    );
    if (position.dataset.key !== String(key)) {
      position.dataset.key = String(key);
      position.replaceChildren(...options);
    }
    position.value = String(settings.version);
    part<HTMLSelectElement>("key").value = String(key);
  }

  private field(id: string, value: number | string, low: number, high: number): void {
    const input = part<HTMLInputElement>(id);
    input.min = String(low);
    input.max = String(high);
    if (document.activeElement !== input || input.value === "") input.value = String(value);
  }

  /** What is looped, as a sentence. */
  private loopWords(): string {
    const { settings, chosen, open, playing } = this.page;
    if (settings.loop) {
      const [first, last] = settings.loop;
      const bars = first === last ? `bar ${first + 1}` : `bars ${first + 1} to ${last + 1}`;
      if (!settings.faster) return `${bars}, over and over`;
      return `${bars}, each round ${settings.faster} faster up to ${Math.round(settings.upTo)}`;
    }
    return chosenWords({ chosen, loop: null, open }, playing);
  }
}
