"""Files that ask for too much, and archives that are not what they say: an error, before the work
that they ask for is done."""

from __future__ import annotations

import os
import random
import zipfile
from pathlib import Path

import pytest
from leadsheet_made import harmony, score

from accomp.errors import InputError, Problem
from accomp.intake import (
    abc,
    musicxml,
    musicxml_measure,
    read,
    read_leadsheet,
    read_melody,
    source,
    written,
)

TUNE = 'X:1\nT:Made Up\nM:4/4\nL:1/4\nK:C\n"C"c4|\n'


def refused(path: Path, words: str) -> Problem:
    with pytest.raises(InputError, match=words) as caught:
        read_leadsheet(path)
    problem = caught.value.problems[0]
    assert problem.file == str(path)
    assert problem.found
    assert problem.expected
    assert problem.hint
    return problem


def counted(monkeypatch: pytest.MonkeyPatch, module: object, name: str) -> list[object]:
    """The first arguments of each call of a function, which does as before."""
    seen: list[object] = []
    before = getattr(module, name)

    def stand_in(first: object, *rest: object, **more: object) -> object:
        seen.append(first)
        return before(first, *rest, **more)

    monkeypatch.setattr(module, name, stand_in)
    return seen


# --- archives ------------------------------------------------------------------------------------


def packed(path: Path, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    with zipfile.ZipFile(path, "w", method) as archive:
        archive.writestr("score.xml", score("C", "F"))
    return path.read_bytes()


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_stored_and_deflated_are_read(tmp_path: Path, method: int) -> None:
    packed(tmp_path / "x.mxl", method)
    (tune,) = read_leadsheet(tmp_path / "x.mxl")
    assert tune.title == "Made Up"


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_other_methods_are_refused_before_anything_is_unpacked(
    tmp_path: Path, method: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed(tmp_path / "x.mxl", method)

    def unpack(*args: object, **kwargs: object) -> None:
        raise AssertionError("it was unpacked")

    monkeypatch.setattr(zipfile.ZipFile, "open", unpack)
    problem = refused(tmp_path / "x.mxl", rf"'score\.xml' in it is packed by method {method}")
    assert problem.found == f"method {method} of compression"


@pytest.mark.parametrize("method", [1, 9, 93, 65535])
def test_methods_that_nobody_knows(tmp_path: Path, method: int) -> None:
    data = bytearray(packed(tmp_path / "x.mxl"))
    entry = data.index(b"PK\x01\x02")
    data[entry + 10 : entry + 12] = method.to_bytes(2, "little")
    (tmp_path / "x.mxl").write_bytes(data)
    refused(tmp_path / "x.mxl", f"is packed by method {method}")


def test_a_container_of_another_method(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "x.mxl", "w") as archive:
        archive.writestr("score.xml", score("C"))
        archive.writestr("META-INF/container.xml", "<container/>", zipfile.ZIP_BZIP2)
    refused(tmp_path / "x.mxl", "container.xml' in it is packed by method 12")


def test_a_password(tmp_path: Path) -> None:
    data = bytearray(packed(tmp_path / "x.mxl"))
    data[data.index(b"PK\x01\x02") + 8] |= 1
    data[data.index(b"PK\x03\x04") + 6] |= 1
    (tmp_path / "x.mxl").write_bytes(data)
    refused(tmp_path / "x.mxl", "it is a damaged archive: .*encrypted")


def test_offsets_that_lead_nowhere(tmp_path: Path) -> None:
    data = bytearray(packed(tmp_path / "x.mxl"))
    at = data.rindex(b"PK\x05\x06") + 16  # where the directory is said to begin
    for offset in (b"\xff\xff\xff\xff", b"\xff\xff\xff\x7f", b"\xf0\xff\xff\xff"):
        data[at : at + 4] = offset
        (tmp_path / "x.mxl").write_bytes(data)
        refused(tmp_path / "x.mxl", "it is a damaged archive")


def test_any_damage_to_an_archive_is_an_error_of_the_file(tmp_path: Path) -> None:
    whole = packed(tmp_path / "whole.mxl")
    path = tmp_path / "x.mxl"
    chance = random.Random(7)
    for _ in range(400):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            data[chance.randrange(4, len(data))] = chance.randrange(256)
        path.write_bytes(data)
        try:
            read_leadsheet(path)  # what nobody looks at may be damaged
        except InputError as error:
            assert {problem.file for problem in error.problems} == {str(path)}  # noqa: PT017


def test_an_archive_of_very_many_entries_is_not_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = packed(tmp_path / "x.mxl")
    (tmp_path / "x.mxl").write_bytes(data + b"PK\x01\x02" * 2000)
    monkeypatch.delattr(zipfile, "ZipFile")
    refused(tmp_path / "x.mxl", "it holds more than 1000 files")


# --- MusicXML ------------------------------------------------------------------------------------


@pytest.mark.slow
def test_measures_are_read_up_to_the_bar_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = []
    read_signs = musicxml.read_signs
    monkeypatch.setattr(
        musicxml, "read_signs", lambda measure: (seen.append(1), read_signs(measure))[1]
    )
    path = tmp_path / "x.xml"
    path.write_text(score(*["C"] * 2500), encoding="utf-8")
    refused(path, "it has more than 2000 bars")
    assert len(seen) == 2001


@pytest.mark.parametrize("sign", ["<", "="])
def test_very_many_tags_or_attributes_are_not_parsed(
    tmp_path: Path, sign: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delattr(source.etree, "XMLParser")
    path = tmp_path / "x.xml"
    path.write_text(score("C").replace("Made Up", sign * 1_000_001), encoding="utf-8")
    refused(path, "it has more than 1,000,000 tags or attributes")


def test_very_many_unknown_chords(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = counted(monkeypatch, musicxml_measure, "harmony_symbol")
    odd = "".join(harmony("C").replace("major", f"kind{n}") for n in range(1500))
    path = tmp_path / "x.xml"
    path.write_text(score("C").replace("<harmony>", f"{odd}<harmony>", 1), encoding="utf-8")
    refused(path, "the number of chord symbols that cannot be read must be at most 1,000")
    assert len(seen) == 1001


# --- ABC -----------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    "music", ['"C"c4|' * 200_000, '"C"c4|' + "Z2000|" * 200, '"C"c4|' + "Z1999|\n" * 200]
)
def test_bars_are_read_up_to_the_bar_limit(tmp_path: Path, music: str) -> None:
    path = tmp_path / "x.abc"
    path.write_text(TUNE + music, encoding="utf-8")
    (tune,) = abc.read_abc(TUNE + music, path)
    assert 2000 < len(tune.bars) < 2010
    refused(path, "it has more than 2000 bars")


def test_a_rest_of_many_bars(tmp_path: Path) -> None:
    path = tmp_path / "x.abc"
    path.write_text(TUNE + 'Z300|"F"c4|\n', encoding="utf-8")
    (tune,) = read_leadsheet(path)
    assert tune.tune is not None
    assert sum(len(tune.tune.sections[name].bars) for name in tune.tune.form) == 302


def test_tunes_are_counted_while_they_are_split(tmp_path: Path) -> None:
    path = tmp_path / "x.abc"
    path.write_text(TUNE * 3000, encoding="utf-8")
    problem = refused(path, "it holds more than 2,000 tunes")
    assert problem.line == 2000 * 6 + 1


def test_long_rests_in_many_tunes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(abc, "MOST_BARS_IN_ALL", 5000)
    path = tmp_path / "x.abc"
    path.write_text(TUNE.replace("c4|", "c4|Z1500|") * 50, encoding="utf-8")
    seen = counted(monkeypatch, abc, "_tune")
    refused(path, "it holds more than 5,000 bars in all its tunes")
    assert len(seen) == 4  # of 50, each of 1502 bars


def test_repeats_in_many_tunes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read, "MOST_BARS_IN_ALL", 500)
    path = tmp_path / "x.abc"
    text = TUNE.replace("K:", "P:A99\nK:").replace('"C"c4|', 'P:A\n"C"c4|"F"c4|')
    path.write_text(text * 10, encoding="utf-8")
    seen = counted(monkeypatch, read, "_imported")
    refused(path, "it holds more than 500 bars in all its tunes, played")
    assert len(seen) == 3  # of 10, each of 198 bars


@pytest.mark.slow
def test_shared_fields_are_not_copied_to_every_tune(tmp_path: Path) -> None:
    path = tmp_path / "x.abc"
    shared = "M:3/4\nC:First\nL:1/8\n" + "M:4/4\nL:1/4\nC:Later\n" * 30_000
    path.write_text(shared + 'X:1\nT:Made Up\nK:C\n"C"c4|\n\n' * 500, encoding="utf-8")
    copied = sum(len(one.header) for one in abc._split(path.read_text("utf-8"))[0])
    assert copied == 500 * (3 + 2)  # of each shared field one, with T: and K:
    tunes = read_leadsheet(path)
    assert {str(one.tune.meter) for one in tunes if one.tune} == {"4/4"}
    assert {one.tune.composer for one in tunes if one.tune} == {"First"}


@pytest.mark.slow
def test_very_many_texts_that_are_no_chords(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(written, "MOST_LOST", 100)
    monkeypatch.setattr(abc, "MOST_LOST_IN_ALL", 150)
    path = tmp_path / "x.abc"
    path.write_text(TUNE + "".join(f'"C{n}{n}"c|' for n in range(300)), encoding="utf-8")
    refused(path, "the number of chord symbols that cannot be read must be at most 100")
    # the same over many tunes, and one text very often, which is no trouble
    tunes = "".join(TUNE + f'"C{n}x1"c"C{n}x2"c"C{n}x3"c|\n' for n in range(60))
    path.write_text(tunes, encoding="utf-8")
    refused(path, "it holds more than 150 chord symbols that cannot be read")
    path.write_text(TUNE + '"Slowly"c4|' * 1500, encoding="utf-8")
    assert read_leadsheet(path)[0].tune is not None


# --- files that are none -------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["x.abc", "x.musicxml", "x.txt"])
def test_a_pipe_is_not_waited_for(tmp_path: Path, name: str) -> None:
    os.mkfifo(tmp_path / name)
    refused(tmp_path / name, "this is no plain file")
    with pytest.raises(InputError, match="this is no plain file"):
        read_melody(tmp_path / name)


def test_the_size_is_held_inside_archives_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed(tmp_path / "x.mxl")
    monkeypatch.setattr(source, "MOST_ARCHIVE", 100)
    refused(tmp_path / "x.mxl", "it holds more than 100 bytes")
