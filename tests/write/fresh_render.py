"""Run by the tests in a process of its own: render on several threads, all at the first moment.

Arguments: the voice's file, how many of the caller's threads render at once, and "blind" to let the
self-check pass everything, so that only a right start of the library makes the sound right. Prints
the SHA-256 of each thread's file, one a line.
"""

from __future__ import annotations

import hashlib
import sys
import tempfile
import threading
from pathlib import Path

from audio_pieces import small_band

from accomp.write.audio import Rendering, render, write_audio


def main(voice: Path, callers: int, blind: bool) -> None:
    if blind:
        render.compare = lambda sound, *_: (0.0, sound)
    piece = small_band(1)
    together = threading.Barrier(callers)
    sums = [""] * callers

    def call(number: int, path: Path) -> None:
        together.wait()
        write_audio(piece, path, Rendering(voice=voice, threads=3))
        sums[number] = hashlib.sha256(path.read_bytes()).hexdigest()

    with tempfile.TemporaryDirectory() as folder:
        threads = [
            threading.Thread(target=call, args=(number, Path(folder, f"{number}.flac")))
            for number in range(callers)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    print("\n".join(sums))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), "blind" in sys.argv[3:])
