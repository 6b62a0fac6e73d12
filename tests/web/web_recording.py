"""Recording what a page sounds, from its own audio graph, by its own audio clock."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

_RECORDER = """
async () => {
  const code = `registerProcessor('recorder', class extends AudioWorkletProcessor {
    process(inputs) {
      const [left, right] = inputs[0];
      if (left) {
        const loud = new Float32Array(left.length);
        for (let i = 0; i < left.length; i++)
          loud[i] = Math.abs(left[i]) > Math.abs((right ?? left)[i]) ? left[i] : (right ?? left)[i];
        this.port.postMessage({ frame: currentFrame, loud });
      }
      return true;
    }
  })`;
  const { context, output } = practice.sound;
  await context.audioWorklet.addModule('data:text/javascript;base64,' + btoa(code));
  const node = new AudioWorkletNode(context, 'recorder', { numberOfOutputs: 0 });
  output.connect(node);
  window.recorded = [];
  node.port.onmessage = (event) => window.recorded.push(event.data);
}
"""
_RECORDED = """
() => {
  const blocks = window.recorded;
  const first = blocks[0].frame;
  const whole = new Float32Array(blocks.at(-1).frame - first + 128);
  for (const { frame, loud } of blocks) whole.set(loud, frame - first);
  const bytes = new Uint8Array(whole.buffer);
  let text = '';
  for (let i = 0; i < bytes.length; i += 32768)
    text += String.fromCharCode.apply(null, bytes.subarray(i, i + 32768));
  const rate = practice.sound.context.sampleRate;
  const pieces = practice.player?.plan?.pieces ?? [];
  return { first: first / rate, rate, data: btoa(text), pieces };
}
"""


@dataclass(frozen=True)
class Recording:
    """Sound from `start_s` of the audio clock on, and the pieces of the tune laid on that clock."""

    sound: npt.NDArray[np.float32]
    start_s: float
    rate: int
    pieces: list[dict[str, float]]

    def between(self, from_s: float, to_s: float) -> npt.NDArray[np.float32]:
        """A stretch by the audio clock."""
        first, last = (round((at - self.start_s) * self.rate) for at in (from_s, to_s))
        return self.sound[max(0, first) : max(0, last)]

    def level_db(self, from_s: float, to_s: float) -> float:
        part = self.between(from_s, to_s)
        return float(20 * np.log10(np.abs(part).max(initial=1e-9)))

    def onset_s(self, near_s: float, within_s: float = 0.04) -> float | None:
        """Where the sound first rises near a moment of the audio clock; None where it does not."""
        step = 64
        margin_s = 10 * step / self.rate  # what a rise is measured against
        part = np.abs(self.between(near_s - within_s - margin_s, near_s + within_s))
        if len(part) < 4 * step:
            return None
        peaks = part[: len(part) // step * step].reshape(-1, step).max(axis=1)
        before = np.array([peaks[max(0, i - 10) : i].max(initial=0) for i in range(len(peaks))])
        rises = np.flatnonzero((peaks > 1.3 * before + 0.006) & (np.arange(len(peaks)) >= 10))
        if not rises.size:
            return None
        return near_s - within_s - margin_s + float(rises[0]) * step / self.rate

    def moment_s(self, time_s: float) -> float | None:
        """The audio clock when a moment of the tune is played, the first time."""
        for piece in self.pieces:
            if piece["bar"] >= 0 and piece["from"] <= time_s < piece["to"]:
                return piece["at"] + (time_s - piece["from"]) * piece["stretch"]
        return None


def start_recording(page: Any) -> None:
    page.evaluate(_RECORDER)


def recorded(page: Any) -> Recording:
    made = page.evaluate(_RECORDED)
    sound = np.frombuffer(base64.b64decode(made["data"]), np.float32)
    return Recording(sound, made["first"], int(made["rate"]), made["pieces"])


def alone(page: Any, *groups: str) -> None:
    """Only these groups are heard."""
    page.evaluate(
        """(groups) => practice.change({ mix: Object.fromEntries(
            Object.keys(practice.settings.mix).map((g) => [g, groups.includes(g) ? 1 : 0])) })""",
        list(groups),
    )


def until(page: Any, condition: str, *, within_s: float = 60.0) -> None:
    """Wait until something is so in the page, whose policy lets nothing evaluate text there."""
    for _ in range(round(within_s / 0.02)):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"never so: {condition}")
