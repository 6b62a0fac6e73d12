// The screen stays on while it plays, where the browser lets it.

let lock: WakeLockSentinel | null = null;
let wanted = false;

export function stayAwake(on: boolean): void {
  wanted = on;
  if (on) void ask();
  else {
    void lock?.release().catch(() => undefined);
    lock = null;
  }
}

async function ask(): Promise<void> {
  try {
    lock = (await navigator.wakeLock?.request("screen")) ?? null;
    if (!wanted) stayAwake(false);
  } catch {
    lock = null; // a screen that goes dark is no reason to stop
  }
}

document.addEventListener("visibilitychange", () => {
  if (wanted && document.visibilityState === "visible") void ask();
});
