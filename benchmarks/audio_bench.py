"""Rendering, against the fluidsynth command line on the same MIDI file, SoundFont and settings.

Settings on both sides: 44,100 Hz, gain 0.5, reverb and chorus off, one core. The command line
writes raw floats to a file; we render the same floats in memory: the whole file in one pass, and
one player's stem. Without a goal, because more is done than on the other side: all stems of a mix,
and the whole way to a finished FLAC (stems, room, loudness, limiter) against the command line with
its reverb on, written as FLAC.

The library is the wheel's; where the system has one of its own (the one the command line plays
with), the same again on that.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from dataclasses import replace
from pathlib import Path

from benchmarks.measure import Measure, command, in_turns, slower
from benchmarks.pieces import arrangement

ROUNDS = 9
SETTINGS = ["-ni", "-r", "44100", "-g", "0.5", "-C", "0", "-o", "synth.cpu-cores=1"]


def run() -> list[Measure]:
    """96 bars at 168: 2 minutes 20 seconds of banjo, bass, drums and count-in."""
    from accomp.score.perform import perform
    from accomp.write import synth
    from accomp.write.audio import Rendering, write_audio
    from accomp.write.audio.render import render
    from accomp.write.midi import midi_bytes
    from accomp.write.soundfont import default_soundfont
    from benchmarks.stems import render_stems

    performance = perform(arrangement(32, 3))
    font = default_soundfont()
    tool = shutil.which("fluidsynth")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        midi, raw, flac = folder / "x.mid", folder / "x.raw", folder / "x.flac"
        midi.write_bytes(midi_bytes(performance))
        data = midi.read_bytes()
        banjo = folder / "banjo.mid"
        banjo.write_bytes(midi_bytes(replace(performance, tracks=performance.tracks[:1])))
        seconds = len(render(data, [font])) / 44_100

        def dry() -> None:
            render(data, [font])

        def stems() -> None:
            render_stems(performance, {}, Rendering(soundfont=font.path, room=False))

        def finished() -> None:
            write_audio(performance, flac, Rendering(soundfont=font.path))

        if tool is None:
            alone, whole = in_turns([dry, finished], ROUNDS)
            return [
                Measure("rendering, one pass", alone.median, "s", note="no fluidsynth command"),
                Measure("performance to FLAC", whole.median, "s", note="no fluidsynth command"),
            ]
        plain = [tool, *SETTINGS, "-R", "0", "-T", "raw", "-O", "float", "-F", str(raw)]
        roomy = [tool, *SETTINGS, "-R", "1", "-T", "flac", "-F", str(folder / "y.flac")]
        files = [str(font.path), str(midi)]
        what = f"fluidsynth command ({_version(tool)})"
        ours, parts, theirs = in_turns([dry, stems, command(*plain, *files)], ROUNDS)
        stem, theirs_stem = in_turns(
            [lambda: render(banjo.read_bytes(), [font]), command(*plain, files[0], str(banjo))],
            ROUNDS,
        )
        whole, plain_flac = in_turns([finished, command(*roomy, *files)], ROUNDS)
        measures = [
            slower(
                f"rendering, one pass, {synth.synth_name()}",
                ours,
                what,
                theirs,
                at_most=1,
                note=f"{seconds / ours.median:.0f} x real time",
            ),
            slower(
                "one stem, the banjo's",
                stem,
                f"{what}, the same notes",
                theirs_stem,
                at_most=1,
                note=f"{seconds / stem.median:.0f} x real time",
            ),
            Measure(
                f"rendering all {len(performance.tracks)} stems and their loudness, in threads",
                parts.median,
                "s",
                what,
                theirs.median,
                parts.over(theirs),
                note=f"{seconds / parts.median:.0f} x real time; more is done than there",
            ),
            Measure(
                "performance to FLAC (stems, room, loudness, limiter)",
                whole.median,
                "s",
                f"{what}, reverb on, to FLAC",
                plain_flac.median,
                whole.over(plain_flac),
                note=f"{seconds / whole.median:.0f} x real time; more is done than there",
            ),
        ]
        system = _on_the_system_library(synth)
        if system is not None:
            ours, theirs = in_turns([dry, command(*plain, *files)], ROUNDS)
            measures.append(slower(f"rendering, one pass, {system}", ours, what, theirs, at_most=1))
    return measures


def _version(tool: str) -> str:
    said = subprocess.run([tool, "--version"], capture_output=True, text=True, check=True).stdout
    found = re.search(r"version (\S+)", said)
    return found[1] if found else "unknown version"


def _on_the_system_library(synth) -> str | None:
    """From now on play with the system's library; its name, or None when there is none."""
    others = [place for place in synth._candidates() if place[0] == "system library"]
    if not others:
        return None
    synth._candidates = lambda: iter(others)
    synth._loaded.cache_clear()
    return synth.synth_name()
