"""Build voices, pack those that come along, and write `soundfonts/manifest.json`: what the files
are and what made them.

python -m benchmarks.voice_manifest            # all voices, some minutes
python -m benchmarks.voice_manifest shipped    # only what comes along packed, a minute

After a change to the models or to the parameters of what comes along the second is needed at least:
a packed font is named after what made it, and one of another name is not used.
"""

from __future__ import annotations

import hashlib
import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from accomp.voice.build import build
from accomp.voice.kit import MODELLED_FONT, modelled, modelled_fingerprint
from accomp.voice.reader import read_voice
from accomp.voice.shipped import packed, packed_name
from accomp.voice.voices import fingerprint_of

FOLDER = Path(__file__).parent.parent / "soundfonts"
SHIPPED = ("tenor-banjo",)  # 3 to 5 MB a voice: those that most people play


def main(only_shipped: bool) -> None:
    """Build, pack and write down."""
    manifest = FOLDER / "manifest.json"
    voices: dict[str, Any] = json.loads(manifest.read_text(encoding="utf-8"))["voices"]
    for old in FOLDER.glob("*.flac"):
        old.unlink()
    for path in sorted(FOLDER.glob("*.toml")):
        name = path.stem
        if name in SHIPPED:
            voice = read_voice(path)
            voices[name] = _made(name, lambda voice=voice: build(voice), fingerprint_of(path))
        elif not only_shipped:
            voice = read_voice(path)
            voices[name] = _made(name, lambda voice=voice: build(voice))
    voices[MODELLED_FONT] = _made(MODELLED_FONT, modelled, modelled_fingerprint())
    text = json.dumps({"made_with": {"numpy": np.__version__}, "voices": voices}, indent=2)
    manifest.write_text(text + "\n", encoding="utf-8")


def _made(name: str, make: Callable[[], bytes], fingerprint: str = "") -> dict[str, Any]:
    start = time.perf_counter()
    data = make()
    print(f"{name}: {len(data) / 1e6:.1f} MB in {time.perf_counter() - start:.0f} s")
    said: dict[str, Any] = {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
    if fingerprint:
        small = packed(data)
        (FOLDER / packed_name(name, fingerprint)).write_bytes(small)
        said["packed_bytes"] = len(small)
        print(f"{name}: packed {len(small) / 1e6:.1f} MB")
    return said


if __name__ == "__main__":
    if sys.argv[1:] not in ([], ["shipped"]):
        sys.exit("python -m benchmarks.voice_manifest [shipped]")
    main(only_shipped=sys.argv[1:] == ["shipped"])
