"""From a performance to a file: the whole way, measured on the file."""

from __future__ import annotations

import signal as signals
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from audio_pieces import performance, player, small_band, soundfont_file
from scipy import signal

from accomp.errors import OutputError, SoundError
from accomp.score.performance import Note, Track
from accomp.write.audio import (
    GROUPS,
    AudioReport,
    Rendering,
    write_audio,
    write_groups,
)
from accomp.write.audio.fonts import choose_fonts
from accomp.write.audio.mix import mixed
from accomp.write.formats import AUDIO_FORMATS, SILENCE_S
from accomp.write.soundfont import band_soundfont
from accomp.write.synth import synth_name
from benchmarks.stems import render_stems

RATE = 44_100


def _true_peak_db(sound: np.ndarray) -> float:
    return float(20 * np.log10(np.abs(signal.resample_poly(sound, 4, 1, axis=0)).max()))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[AudioReport, Path]:
    path = tmp_path_factory.mktemp("made") / "piece.flac"
    return write_audio(small_band(4), path), path


@pytest.mark.slow
def test_the_file_is_as_loud_as_it_should_be(made: tuple[AudioReport, Path]) -> None:
    report, path = made
    sound, rate = soundfile.read(path)
    measured = pyloudnorm.Meter(rate).integrated_loudness(sound)
    assert measured == pytest.approx(-16, abs=0.5)
    assert report.loudness_lufs == pytest.approx(measured, abs=0.1)
    assert _true_peak_db(sound) <= -1.0
    assert report.true_peak_dbtp == pytest.approx(_true_peak_db(sound), abs=0.1)
    assert 0 <= report.limited_db <= 4.501
    assert report.notices == ()


def test_the_report_names_what_played(made: tuple[AudioReport, Path]) -> None:
    report, path = made
    assert report.synth == synth_name()
    assert report.soundfont == band_soundfont().name
    assert report.duration_s == pytest.approx(soundfile.info(path).duration, abs=1e-6)
    assert small_band(4).end_s < report.duration_s - SILENCE_S < small_band(4).end_s + 2


def test_count_in_and_strokes_lie_where_they_are_written(made: tuple[AudioReport, Path]) -> None:
    # The rise of the level in the finished file; how quickly a sound rises is tested with render.
    sound, _ = soundfile.read(made[1])
    level = np.abs(sound).max(axis=1)
    for beat in range(5):  # four clicks and the first stroke
        at = round((SILENCE_S + beat / 3) * RATE)
        after = level[at : at + round(0.08 * RATE)]
        assert np.argmax(after > after.max() / 2) / RATE < (0.020 if beat < 4 else 0.030)
        if beat:
            assert level[at - 300 : at - 64].max() < 0.03 * after.max()
    assert 0.3 <= SILENCE_S <= 0.5
    assert level[: round(SILENCE_S * RATE)].max() < 1e-4  # but for the dither


def test_the_same_again_gives_the_same_bytes(made: tuple[AudioReport, Path]) -> None:
    again = made[1].with_name("again.flac")
    report = write_audio(small_band(4), again, Rendering(threads=1))  # and threads change nothing
    assert report == made[0]
    assert again.read_bytes() == made[1].read_bytes()


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_every_format_holds_loudness_and_peak(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"piece.{kind}"
    write_audio(small_band(2), path, format=kind, tags={"key": "F"})
    sound, rate = soundfile.read(path)
    assert pyloudnorm.Meter(rate).integrated_loudness(sound) == pytest.approx(-16, abs=0.5)
    assert _true_peak_db(sound) <= -1.0


@pytest.mark.slow
def test_progress_goes_up_to_one(tmp_path: Path) -> None:
    seen: list[float] = []
    write_audio(small_band(1), tmp_path / "a.flac", progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    assert len(seen) > 1


def test_the_parts_add_up_to_the_mix_before_its_limiter() -> None:
    stems = render_stems(small_band(2), GROUPS)
    assert {sound.shape for sound in stems.values()} == {stems["full"].shape}
    total = stems["player"] + stems["without-player"]
    assert np.abs(total - stems["full"]).max() < 1e-5
    assert np.abs(stems["player"]).max() > 0.1
    assert np.abs(stems["without-player"]).max() > 0.1
    quarter = RATE // 3  # the player has nothing in the count-in bar
    assert not np.abs(stems["player"][: 3 * quarter]).any()


@pytest.mark.slow
def test_files_of_groups_share_one_gain(tmp_path: Path) -> None:
    paths = {name: tmp_path / f"{name}.wav" for name in GROUPS}
    reports = write_groups(small_band(2), paths, format="wav")
    assert len({report.gain_db for report in reports.values()}) == 1
    assert len({report.duration_s for report in reports.values()}) == 1
    stems = render_stems(small_band(2), GROUPS)
    with mixed(small_band(2), GROUPS, choose_fonts(None, None)) as mix:
        stem_gain_db = mix.gain_db
    for name, report in reports.items():
        sound = soundfile.read(paths[name])[0][round(SILENCE_S * RATE) :]
        assert _true_peak_db(sound) <= -1.0
        # The silence before a file may make a tenth of a decibel of its loudness.
        gain = 10 ** ((report.gain_db - stem_gain_db) / 20)
        if report.limited_db == 0:
            assert np.abs(sound - gain * stems[name]).max() < 1e-4
        loud = np.abs(stems[name]) > 1e-3  # the limiter takes something from few of these frames
        assert np.median(sound[loud] / stems[name][loud]) == pytest.approx(gain, abs=2e-3)


@pytest.mark.slow
def test_the_gain_is_the_full_mix_s_even_when_only_a_part_is_written(tmp_path: Path) -> None:
    alone = write_groups(small_band(1), {"player": tmp_path / "a.flac"})
    both = write_audio(small_band(1), tmp_path / "b.flac")
    assert alone["player"].gain_db == pytest.approx(both.gain_db, abs=1e-4)


def test_panning_reaches_the_file(tmp_path: Path) -> None:
    notes = [Note(0.0, 1.0, 60, 90, 0)]
    path = tmp_path / "left.wav"
    write_audio(performance(player(notes, pan=0), end_s=1.0), path, format="wav")
    left, right = np.sqrt(np.mean(np.square(soundfile.read(path)[0]), axis=0))
    assert left > 20 * right  # the room does not carry it across


@pytest.mark.parametrize("length_s", [0.01, 0.2])
def test_a_very_short_piece(tmp_path: Path, length_s: float) -> None:
    piece = performance(player([Note(0.0, length_s, 60, 90, 0)]), end_s=length_s)
    report = write_audio(piece, tmp_path / "a.flac")
    assert report.loudness_lufs is not None
    assert np.isfinite(soundfile.read(tmp_path / "a.flac")[0]).all()


@pytest.mark.parametrize("tracks", [0, 1])
def test_silence_is_said(tmp_path: Path, tracks: int) -> None:
    piece = performance(*[player([])] * tracks, end_s=1.0)
    report = write_audio(piece, tmp_path / "a.flac")
    assert report.loudness_lufs is None
    assert report.true_peak_dbtp is None
    assert report.notices == ("Nothing sounds: the audio file is silent.",)
    sound, _ = soundfile.read(tmp_path / "a.flac")
    assert len(sound) >= RATE
    assert np.abs(sound).max() < 1e-4


def test_loudness_gives_way_without_a_word(tmp_path: Path) -> None:
    # One stroke of the castanets in eight seconds: all peak and no loudness.
    castanets = Track("Drums", "band", 0, (9,), (Note(4.0, 4.1, 85, 127, 9),))
    piece = performance(castanets, end_s=8.0)
    report = write_audio(piece, tmp_path / "a.flac")
    assert report.loudness_lufs is not None
    assert report.loudness_lufs < -16.5
    assert report.limited_db == pytest.approx(4.5, abs=0.01)
    assert report.notices == ()


def test_another_soundfont(tmp_path: Path) -> None:
    font = soundfont_file(tmp_path / "sine.sf2", name="Sine", presets=((0, 105),))
    piece = performance(player([Note(0.0, 1.0, 69, 90, 0)]), end_s=1.0)
    report = write_audio(
        piece, tmp_path / "a.wav", Rendering(soundfont=font, room=False), format="wav"
    )
    assert report.soundfont == "Sine"
    sound, _ = soundfile.read(tmp_path / "a.wav")
    spectrum = np.abs(np.fft.rfft(sound[:RATE, 0]))
    assert np.argmax(spectrum) == pytest.approx(441, abs=1)


def test_a_bad_soundfont_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a.flac"
    path.write_bytes(b"earlier")
    with pytest.raises(SoundError, match=r"none\.sf2: there is no such file"):
        write_audio(small_band(1), path, Rendering(soundfont=tmp_path / "none.sf2"))
    assert path.read_bytes() == b"earlier"


def test_an_unknown_format(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match=r"'aiff' is no audio format here.*flac, wav, ogg, mp3"):
        write_audio(small_band(1), tmp_path / "a.aiff", format="aiff")
    assert not list(tmp_path.iterdir())


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"a\.flac: cannot write here"):
        write_audio(small_band(1), tmp_path / "none" / "a.flac")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_a_full_disk() -> None:
    with pytest.raises(OutputError, match="no space left"):
        write_audio(small_band(1), Path("/dev/full"))


def test_a_full_disk_under_the_working_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: object, block: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("accomp.write.audio.spool.Spool.append", full)
    with pytest.raises(OutputError, match="no space left on device"):
        write_audio(small_band(1), tmp_path / "a.flac")
    assert not list(tmp_path.iterdir())


_ENDLESS = """
import sys
sys.path.insert(0, {tests!r})
from pathlib import Path
from audio_pieces import small_band
from accomp.write.audio import write_audio
piece = small_band(2_000)
try:
    write_audio(piece, Path({out!r}), progress=lambda part: print(part, flush=True))
except KeyboardInterrupt:
    print("interrupted")
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="signals work otherwise there")
def test_an_interrupt_stops_at_once(tmp_path: Path) -> None:
    out = tmp_path / "long.flac"
    script = _ENDLESS.format(tests=str(Path(__file__).parent), out=str(out))
    with subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()  # it is rendering
        process.send_signal(signals.SIGINT)
        try:
            rest, _ = process.communicate(timeout=120)  # to the end of the piece it is minutes
        finally:
            process.kill()
    assert rest.endswith("interrupted\n")
    assert not out.exists()
