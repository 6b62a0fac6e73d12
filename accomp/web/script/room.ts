// A small room: first reflections, then decaying noise, as the tracks have it.
//
// Conventions: the figures are those of the room of the audio files; only what comes back is here,
// the direct sound goes past it.

const DECAY_S = 0.25; // time to fall by 60 dB
const LEVEL_DB = -21; // energy of all that comes back, against the direct sound
const LENGTH_S = 0.3;
const NOISE_FROM_S = 0.012;
const SOFTENING_S = 0.00008;
const REFLECTIONS = [
  [[5.3, 0.9], [8.9, -0.75], [12.7, 0.6], [17.1, 0.5], [23.9, -0.42]],
  [[6.1, 0.9], [8.1, -0.75], [13.9, 0.6], [16.3, 0.5], [25.3, -0.42]],
] as const;

/** What the room gives back of a click. */
export function roomResponse(context: BaseAudioContext): AudioBuffer {
  const rate = context.sampleRate;
  const taps = Math.floor(LENGTH_S * rate);
  const buffer = context.createBuffer(2, taps, rate);
  let seed = 1897;
  REFLECTIONS.forEach((reflections, side) => {
    const back = buffer.getChannelData(side);
    for (let tap = Math.ceil(NOISE_FROM_S * rate); tap < taps; tap++) {
      // Park and Miller's generator: the same room on every machine.
      seed = (seed * 48271) % 2147483647;
      back[tap] = 0.1 * (seed / 2147483647 - 0.5) * Math.sqrt(3) * 10 ** ((-3 * tap) / rate / DECAY_S);
    }
    for (const [delay, gain] of reflections) {
      const tap = Math.round((delay / 1000) * rate);
      back[tap] = (back[tap] ?? 0) + gain;
    }
    const keep = Math.exp(-1 / (SOFTENING_S * rate));
    let energy = 0;
    let soft = 0;
    for (let tap = 0; tap < taps; tap++) {
      soft = (1 - keep) * (back[tap] ?? 0) + keep * soft;
      back[tap] = soft * Math.sqrt(Math.cos((Math.PI / 2) * (tap / taps)));
      energy += back[tap]! ** 2;
    }
    const scale = 10 ** (LEVEL_DB / 20) / Math.sqrt(energy);
    for (let tap = 0; tap < taps; tap++) back[tap] = back[tap]! * scale;
  });
  return buffer;
}
