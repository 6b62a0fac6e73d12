// The desk's foot: play, speed, what is looped, one step back.

import { chosenWords } from "./choice";
import type { Desk } from "./desk";
import { part, write } from "./dom";

export class DeskFoot {
  constructor(private readonly desk: Desk) {
    part("play").addEventListener("click", () => desk.toggle());
    part("slower").addEventListener("click", () => this.faster(-4));
    part("faster").addEventListener("click", () => this.faster(4));
    part("no-loop").addEventListener("click", () => desk.bars.loop(null));
    part("undo").addEventListener("click", () => void desk.undo());
    part("redo").addEventListener("click", () => {
      const text = desk.history?.redo();
      if (text != null) desk.back(text, "Done again.");
    });
    const measure = (): void => document.documentElement.style.setProperty("--foot-height", `${part("foot").offsetHeight}px`);
    new ResizeObserver(measure).observe(part("foot"));
  }

  /** Show what is heard. */
  draw(): void {
    const { desk } = this;
    const { hearing } = desk;
    write(part("play"), hearing.busy ? "Stop" : "Play");
    const own = Number(desk.judged?.fields?.tempo ?? 120);
    const tempo = hearing.timeline ? hearing.heard : own * hearing.speed;
    write(part("beats"), String(Math.round(tempo)));
    const words = hearing.loop
      ? `bars ${hearing.loop[0] + 1} to ${hearing.loop[1] + 1}, over and over`
      : chosenWords({ ...desk.bars, loop: null }, hearing.playing);
    write(part("round"), hearing.waiting ? "the sound is being made" : words);
    write(part("no-loop"), hearing.loop ? "whole tune" : "from the beginning");
    part("no-loop").hidden = words === "" || desk.isStyle; // a style is always heard in a round
    if (!hearing.timeline) return;
    desk.band.take(hearing.timeline);
    if (desk.isStyle && !hearing.loop) hearing.setLoop([0, hearing.timeline.bars.length - 1], 0);
  }

  faster(beats: number): void {
    if (this.desk.hearing.timeline) this.desk.hearing.setTempo(this.desk.hearing.heard + beats);
    else {
      const own = Number(this.desk.judged?.fields?.tempo ?? 120);
      this.desk.hearing.speed = Math.min(1.5, Math.max(0.3, this.desk.hearing.speed + beats / own));
      this.draw();
    }
  }
}
