// Chord names said aloud by the browser's own speech, where it has one.

export const canSpeak = typeof speechSynthesis !== "undefined" && typeof SpeechSynthesisUtterance !== "undefined";

export function say(words: string): void {
  if (!canSpeak) return;
  speechSynthesis.cancel(); // a name that is late helps nobody
  const told = new SpeechSynthesisUtterance(words);
  told.lang = "en";
  told.rate = 1.25;
  speechSynthesis.speak(told);
}

export function hush(): void {
  if (canSpeak) speechSynthesis.cancel();
}
