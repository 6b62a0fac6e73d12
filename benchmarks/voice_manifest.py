"""Build every voice and write `soundfonts/manifest.json`: what the files are and what made them.

python -m benchmarks.voice_manifest
"""

from __future__ import annotations

import hashlib
import json
import time
from pathlib import Path
from typing import Any

import numpy as np

from accomp.voice.build import build
from accomp.voice.reader import read_voice

FOLDER = Path(__file__).parent.parent / "soundfonts"


def main() -> None:
    """A few minutes of building."""
    voices: dict[str, Any] = {}
    for path in sorted(FOLDER.glob("*.toml")):
        start = time.perf_counter()
        data = build(read_voice(path))
        voices[path.stem] = {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
        print(f"{path.stem}: {len(data) / 1e6:.1f} MB in {time.perf_counter() - start:.0f} s")
    made_with = {"numpy": np.__version__}
    text = json.dumps({"made_with": made_with, "voices": voices}, indent=2)
    (FOLDER / "manifest.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
