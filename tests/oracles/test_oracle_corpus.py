"""Lead sheets by other hands, read, made and heard: each chord sounds its tones, in every key.

The pieces come with music21's corpus and are only read by the tests. What they ask for is told by
music21 itself (`leadsheet_chords.py`), what is heard by mido (`heard.py`), what stands on paper by
music21, partitura and verovio.
"""

import base64
import json
import tomllib
from collections import Counter
from pathlib import Path

import mido
import music21
import pytest
from heard import heard
from leadsheet_chords import asked_chords, sheets

from accomp.cli import run

PIECES = (
    "leadSheet/berlinAlexandersRagtime",
    "leadSheet/fosterBrownHair",
    "demos/ComprehensiveChordSymbolsTestFile",
    "nottingham-dataset/reelsa-c",
)
PLAYER = "Tenor banjo"
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def pc(key: str) -> int:
    """The pitch class of a key's tonic, "F#m" 6."""
    return (LETTERS[key[0]] + key.count("#") - key[1:].count("b")) % 12


@pytest.fixture(scope="module")
def pieces(tmp_path_factory):
    """Each piece read into tune files: (music21's score, tune file), in order."""
    done = {}
    for name in PIECES:
        folder = tmp_path_factory.mktemp(name.split("/")[1])
        source = Path(music21.corpus.getWork(name))
        assert run(["read", str(source), "--out", str(folder)]) == 0
        scores = sheets(source)
        tunes = {title(path): path for path in folder.glob("*.toml")}
        assert len(tunes) == len(scores)
        done[name] = [
            (score, tunes.get(score.metadata.title, next(iter(tunes.values())))) for score in scores
        ]
        assert len({tune for _, tune in done[name]}) == len(scores)
    return done


def title(tune: Path) -> str:
    return tomllib.loads(tune.read_text(encoding="utf-8"))["title"]


def make(tune: Path, out: Path, capsys, *words: str) -> tuple[dict, str]:
    """Make a tune; the manifest and the tune's own key."""
    capsys.readouterr()
    code = run(["make", str(tune), "--out", str(out), "--choruses", "1", "--json", *words])
    said, err = capsys.readouterr()
    assert code == 0, err
    return json.loads(said), tomllib.loads(tune.read_text(encoding="utf-8"))["key"]


def judge(midi: Path, asked, up: int) -> None:
    """The chords heard are the chords asked for, `up` semitones higher, and sound their tones."""
    chords = []
    for chord in heard(mido.MidiFile(midi, charset="utf-8")):
        if chords and chords[-1][0] == chord.symbol:
            chords[-1][1].extend(chord.pitches[PLAYER])
        else:
            chords.append((chord.symbol, list(chord.pitches[PLAYER])))
    if chords[0][0] == "N.C." and asked[0].tones:  # bars before the first chord
        chords = chords[1:]
    assert len(chords) == len(asked), f"{[c[0] for c in chords]} {asked}"
    for (symbol, pitches), one in zip(chords, asked, strict=True):
        place = f"{midi.name}: {symbol}"
        classes = {(pitch - up) % 12 for pitch in pitches}
        if not one.tones:
            assert not classes, place
            continue
        assert (pc(symbol.split("/")[0][:2].rstrip("m")) - up) % 12 == one.root, place
        assert classes <= one.tones, f"{place}: {classes - one.tones} is none of its tones"
        assert one.essential <= classes, f"{place}: {one.essential - classes} is missing"


@pytest.mark.slow
@pytest.mark.many(1)
@pytest.mark.parametrize("name", PIECES)
def test_read_and_made_it_sounds_its_chords(name, pieces, capsys, tmp_path):
    for number, (score, tune) in enumerate(pieces[name]):
        out = tmp_path / str(number)
        manifest, _ = make(tune, out, capsys, "--only", "midi", "--shapes", "all", "--plan", "free")
        judge(out / manifest["files"][0]["path"], asked_chords(score), up=0)


@pytest.mark.long
@pytest.mark.parametrize("name", PIECES)
def test_in_twelve_keys_it_sounds_its_chords(name, pieces, capsys, tmp_path):
    for number, (score, tune) in enumerate(pieces[name]):
        out = tmp_path / str(number)
        manifest, home = make(tune, out, capsys, "--only", "midi", "--key", "all", "--plan", "free")
        assert len(manifest["files"]) == 12
        asked = asked_chords(score)
        for entry in manifest["files"]:
            judge(out / entry["path"], asked, up=(pc(entry["key"]) - pc(home)) % 12)


def strokes(midi: Path) -> list[frozenset[int]]:
    """What the player's part strikes, stroke by stroke (strings within 60 ms are one)."""
    file = mido.MidiFile(midi)
    track = next(track for track in file.tracks if track.name == PLAYER)
    tempo = next(m.tempo for m in file.tracks[0] if m.type == "set_tempo")
    found: list[tuple[float, set[int]]] = []
    now = 0
    for message in track:
        now += message.time
        if message.type == "note_on":
            at = mido.tick2second(now, file.ticks_per_beat, tempo)
            if found and at - found[-1][0] < 0.06:
                found[-1][1].add(message.note)
            else:
                found.append((at, {message.note}))
    return [frozenset(pitches) for _, pitches in found]


@pytest.mark.long
@pytest.mark.parametrize("up", [0, 1, 6])
@pytest.mark.parametrize("name", PIECES)
@pytest.mark.filterwarnings("ignore:ignoring direction type")  # partitura keeps few of them
@pytest.mark.filterwarnings("ignore:error parsing")  # words that are no tempo it knows
@pytest.mark.filterwarnings("ignore:ignoring empty <harmony> tag")  # it says so of every one
def test_in_three_keys_readers_find_on_paper_what_is_played(
    name, up, pieces, capsys, tmp_path, partitura
):
    import verovio

    keys = "C Db D Eb E F Gb G Ab A Bb B".split()
    for number, (_, tune) in enumerate(pieces[name]):
        out = tmp_path / str(number)
        text = tomllib.loads(tune.read_text(encoding="utf-8"))["key"]
        key = keys[(pc(text) + up) % 12] if up else text
        if up and text.endswith("m"):
            key = "C C# D Eb E F F# G G# A Bb B".split()[(pc(text) + up) % 12] + "m"
        manifest, _ = make(
            tune, out, capsys, "--only", "midi", "--only", "musicxml", "--key", key,
            "--plan", "free",
        )  # fmt: skip
        midi, xml = (out / entry["path"] for entry in manifest["files"])
        played = strokes(midi)
        whole = music21.converter.parse(xml, forceSource=True)
        written = [
            frozenset(pitch.midi for pitch in note.pitches)
            for note in whole.parts[0].expandRepeats().recurse().notes
            if not isinstance(note, music21.harmony.Harmony)
            and (note.tie is None or note.tie.type == "start")
        ]
        assert written == played

        notes = partitura.load_musicxml(xml)[0].note_array()
        once = Counter(
            pitch.midi
            for note in whole.parts[0].recurse().notes
            if not isinstance(note, music21.harmony.Harmony)
            and (note.tie is None or note.tie.type == "start")
            for pitch in note.pitches
        )
        assert Counter(int(pitch) for pitch in notes["pitch"]) == once

        toolkit = verovio.toolkit()
        assert toolkit.loadData(xml.read_text("utf-8"))
        assert toolkit.getLog() == ""
        (out / "verovio.mid").write_bytes(base64.b64decode(toolkit.renderToMIDI()))
        sounded = {
            message.note
            for track in mido.MidiFile(out / "verovio.mid").tracks
            for message in track
            if message.type == "note_on" and message.velocity
        }
        assert sounded >= set().union(*played)
