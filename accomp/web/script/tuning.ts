// Tuning notes: the open strings, one button each.

import { make, part } from "./dom";
import type { Page } from "./main";

const SOUNDS_S = 3;
const AUDIBLE = 0.8; // the player's fader while tuning, when it is down: play puts it back
let ids = -1; // apart from the plan's, which rise

export function openStrings(page: Page): void {
  const place = part("tuning");
  for (const { name, string, note } of page.timeline.tuning) {
    const [key, velocity, channel, bank] = note;
    const ordinal = ["first", "second", "third"][string - 1] ?? `${string}th`;
    const button = make("button", { type: "button", "aria-label": `${ordinal} string, ${name}` }, name);
    button.addEventListener("click", () => {
      const sound = page.sound;
      if (!sound) return;
      page.stop();
      void sound.context.resume().then(() => {
        const on = sound.now + 0.03;
        const program = page.timeline.versions[0]!.track.program;
        const off = on + SOUNDS_S;
        sound.cut(sound.now);
        sound.fade("me", Math.max(AUDIBLE, page.settings.mix.me ?? 0));
        sound.notes([{ id: ids--, on, off, channel, key, velocity, bank, program }]);
      });
    });
    place.append(button);
  }
}
