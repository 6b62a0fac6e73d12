"""Band books: what is in them, what is reported, and that nothing is lost or made twice.

Source: ISO 32000 through pypdf, for the pages, the outline and the links of the PDFs.
"""

from __future__ import annotations

import gzip
import hashlib
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from accomp.errors import InputError, OutputError
from accomp.job.book import make_book
from accomp.job.book_read import read_book, with_players
from accomp.job.build import WORK

pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")

TUNE = '''title = "{title}"
key = "{key}"
meter = "4/4"
tempo = 120
style = "flat-four"

[sections]
A = """
| {chords} |
"""
'''
TUNES = {
    "kettle": ("Kettle Lane", "C", "C | F / G7 / | C7 | C"),
    "amber": ("The Amber Gate", "F", "F | Bb | C7 | F"),
    "slate": ("Slate Roofs", "Bb", "Bb | Eb | F7 | Bb"),
}


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "tunes"
    made.mkdir()
    for name, (title, key, chords) in TUNES.items():
        write(made, name, title, key, chords)
    return made


def write(folder, name, title, key="C", chords="C | F | G7 | C"):
    text = TUNE.format(title=title, key=key, chords=chords)
    (folder / f"{name}.toml").write_text(text, encoding="utf-8")


def made(folder, out, players=("Bb",), **how):
    return make_book(with_players(read_book(folder), players), out, **how)


def reader(out, ending):
    return pypdf.PdfReader(next(out.glob(f"*_{ending}.pdf")))


def text(page):
    return re.sub(r"\s+", " ", page.extract_text())


def test_a_book_has_cover_contents_tunes_and_index(folder, tmp_path):
    book = made(folder, tmp_path / "out", ("own", "Bb"))
    assert (book.tunes, book.problems) == (3, ())
    assert [file.path for file in book.manifest.files] == ["tunes_tenor-banjo.pdf", "tunes_Bb.pdf"]
    pdf = reader(tmp_path / "out", "Bb")
    pages = [text(page) for page in pdf.pages]
    assert "B♭ instruments" in pages[0]
    assert "3 tunes" in pages[0]
    assert pages[1].startswith("Contents")
    for title, key in (("Kettle Lane", "D"), ("The Amber Gate", "G"), ("Slate Roofs", "C")):
        listed = re.search(rf"{title}, {key} major[ .]*(\d+)", pages[1])
        assert listed
        assert pages[int(listed[1]) - 1].startswith(f"{title} {key} major")
    assert pages[-2].startswith("By title")
    assert pages[-1].startswith("By key")
    # without book.toml the tunes stand by title; the index leaves the article out of account
    assert re.findall("Kettle|Slate|Amber", pages[1]) == ["Kettle", "Slate", "Amber"]
    assert re.findall("Kettle|Slate|Amber", pages[-2]) == ["Amber", "Kettle", "Slate"]
    by_key = re.findall(r"([A-G]♭?) major (Kettle|Slate|The Amber)", pages[-1])
    assert by_key == [("C", "Slate"), ("D", "Kettle"), ("G", "The Amber")]


def test_bookmarks_and_links_lead_to_the_tunes(folder, tmp_path):
    made(folder, tmp_path / "out")
    pdf = reader(tmp_path / "out", "Bb")
    named = {
        entry.title: pdf.get_destination_page_number(entry) + 1
        for entry in pdf.outline
        if not isinstance(entry, list)
    }
    assert named["Kettle Lane, D major"] == 3
    assert {"Contents", "By title", "By key"} <= named.keys()
    links = [
        note.get_object()
        for note in pdf.pages[1].get("/Annots", [])
        if note.get_object()["/Subtype"] == "/Link"
    ]
    assert len(links) >= 3


@pytest.mark.slow
def test_page_headers_name_the_tune_on_its_further_pages(folder, tmp_path):
    write(folder, "long", "Long Haul", "C", "C | F | G7 | C |" * 15 + "C | F | G7 | C")
    made(folder, tmp_path / "out", ("own",))
    pdf = reader(tmp_path / "out", "tenor-banjo")
    pages = [text(page) for page in pdf.pages]
    first = next(i for i, page in enumerate(pages) if page.startswith("Long Haul C major"))
    assert any(page.startswith("Long Haul C major") for page in pages[first + 1 : first + 3])
    total = len(pages)
    assert f"{first + 1} / {total}" in pages[first]


BOOK = """title = "Quayside Band"
paper = "letter"
players = ["concert", "mandolin"]
pages = ["chart"]
order = ["slate", "kettle.toml"]

[keys]
kettle = ["C", "Eb"]
"""


def test_book_toml_says_what_and_how(folder, tmp_path):
    (folder / "book.toml").write_text(BOOK)
    book = make_book(read_book(folder), tmp_path / "out")
    assert [file.path for file in book.manifest.files] == [
        "quayside-band_concert.pdf",
        "quayside-band_mandolin.pdf",
    ]
    assert [file.part for file in book.manifest.files] == ["concert", "mandolin"]
    assert book.tunes == 2
    pdf = pypdf.PdfReader(tmp_path / "out" / "quayside-band_mandolin.pdf")
    assert float(pdf.pages[0].mediabox.width) == pytest.approx(612, abs=0.2)
    assert "Mandolin" in text(pdf.pages[0])
    contents = text(pdf.pages[1])
    found = re.findall(r"(Slate Roofs|Kettle Lane|The Amber Gate), (\S+) major", contents)
    assert found == [("Slate Roofs", "B♭"), ("Kettle Lane", "C"), ("Kettle Lane", "E♭")]
    assert len(pdf.pages) == 2 + 3 + 2


@pytest.mark.slow
def test_a_book_prints_its_strummed_parts_as_they_are_asked_for(folder, tmp_path):
    """In slashes without boxes a tune's pages have neither TAB nor the names of the boxes twice."""
    wordings = {}
    for words in ("", 'part = "slash"\nboxes = "none"\n', 'part = "tab"\nboxes = "changes"\n'):
        (folder / "book.toml").write_text('order = ["kettle"]\nplayers = ["own"]\n' + words)
        book = make_book(read_book(folder), tmp_path / f"out-{len(wordings)}")
        (file,) = book.manifest.files
        pdf = pypdf.PdfReader(tmp_path / f"out-{len(wordings)}" / file.path)
        part = next(text(page) for page in pdf.pages[3:] if "Kettle Lane" in text(page))
        wordings[words] = part
    both, slash, tab = wordings.values()
    frets = [len(re.findall(r"\b\d+\b", part)) for part in (slash, both)]
    assert frets[0] < 20 < frets[1] - 20
    assert len(set(wordings.values())) == 3
    assert tab


@pytest.mark.parametrize(
    ("text_", "line", "column", "found", "hint"),
    [
        ('titel = "x"', 1, 1, "titel", "'title'"),
        ('paper = "a5"', 1, 9, "a5", ""),
        ('boxes = "tops"', 1, 9, "tops", "'top'"),
        ('part = "bass"', 1, 8, "bass", ""),
        ('players = ["Bb", "conzert"]', 1, 18, "conzert", "'concert'"),
        ('players = "Bb"', 1, 11, "Bb", ""),
        ('\npages = ["chart", "chrat"]', 2, 19, "chrat", "'chart'"),
        ("title = 3", 1, 9, "3", ""),
        ("order = []", 1, 9, "[]", ""),
        ("[keys]\nkettle = [1]", 2, 11, "1", ""),
        ("keys = 1", 1, 8, "1", ""),
    ],
)
def test_what_is_wrong_in_book_toml_is_said_with_its_place(
    text_, line, column, found, hint, folder, tmp_path
):
    (folder / "book.toml").write_text(text_)
    with pytest.raises(InputError) as error:
        read_book(folder)
    (problem,) = error.value.problems
    assert (problem.line, problem.column, problem.found) == (line, column, found)
    assert hint in problem.hint
    assert problem.file.endswith("book.toml")


def test_a_missing_tune_is_reported_and_the_rest_made(folder, tmp_path):
    (folder / "book.toml").write_text('order = ["slate", "ketle", "amber"]\n[keys]\nnone = "C"\n')
    book = made(folder, tmp_path / "out")
    assert book.tunes == 2
    assert [(p.line, p.column, p.found) for p in book.problems] == [
        (1, 19, "ketle"),
        (3, 1, "none"),
    ]
    assert "kettle" in book.problems[0].hint
    assert (tmp_path / "out" / "tunes_Bb.pdf").exists()


def test_broken_tunes_are_reported_together_with_their_places(folder, tmp_path):
    write(folder, "typo", "Typo", "C", "C | H7 | G7 | C")
    (folder / "half.toml").write_text('title = "Half\n')
    (folder / "nostyle.toml").write_text(
        TUNE.format(title="No style", key="C", chords="C").replace("flat-four", "flat-fur")
    )
    write(folder, "wide", "Wide", "Q", "C")
    book = made(folder, tmp_path / "out")
    assert book.tunes == 3
    places = {(Path(p.file).name, p.line) for p in book.problems}
    assert places == {("typo.toml", 9), ("half.toml", 1), ("nostyle.toml", 5), ("wide.toml", 2)}
    assert all(problem.hint or problem.expected for problem in book.problems)


@pytest.mark.slow
def test_a_tune_without_playable_shapes_keeps_only_itself_out(folder, tmp_path):
    (folder / "three.toml").write_text(
        'title = "Two frets"\nkey = "C"\nmeter = "4/4"\ntempo = 100\ninstrument = "stub.toml"\n'
        'style = "flat-four"\n[sections]\nA = "| C13 | F#m7b5 |"\n'
    )
    (folder / "stub.toml").write_text(
        'title = "Stub"\nstrings = ["C3", "C3", "C3", "C3"]\nfrets = 1\nscale = 500\n'
    )
    book = made(folder, tmp_path / "out", ("own",))
    assert book.tunes == 3
    assert [(Path(p.file).name, p.line, p.found) for p in book.problems] == [
        ("three.toml", 8, "C13"),
        ("three.toml", 8, "F#m7b5"),
    ]


def test_other_data_files_may_lie_in_the_folder(folder, tmp_path):
    (folder / "mine.toml").write_text((Path("styles") / "flat-four.toml").read_text())
    assert made(folder, tmp_path / "out").problems == ()


def test_two_tunes_of_one_title_are_both_there(folder, tmp_path):
    write(folder, "other", "Kettle Lane", "G", "G | C | D7 | G")
    book = made(folder, tmp_path / "out")
    assert book.tunes == 4
    assert any("kettle.toml and other.toml" in notice for notice in book.manifest.notices)
    contents = text(reader(tmp_path / "out", "Bb").pages[1])
    assert re.findall(r"Kettle Lane, (\S+) major", contents) == ["D", "A"]


def test_without_a_tune_there_is_no_book(tmp_path):
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match="there is no tune file"):
        read_book(tmp_path / "empty")
    with pytest.raises(InputError, match="Name a folder"):
        read_book(tmp_path / "absent")
    (tmp_path / "empty" / "bad.toml").write_text("title = \n")
    with pytest.raises(InputError, match=r"bad.toml:1"):
        make_book(read_book(tmp_path / "empty"), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_players_are_checked(folder):
    with pytest.raises(InputError, match=r"'Cb' is no player"):
        with_players(read_book(folder), ("Cb",))


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("title", ['#read("x")', "<b>&", "../../up", "שיר", "x" * 250])
def test_titles_of_books_and_tunes_are_text(title, folder, tmp_path):
    import msgspec

    quoted = msgspec.json.encode(title).decode()
    (folder / "book.toml").write_text(f"title = {quoted}\n")
    (folder / "odd.toml").write_text(
        TUNE.format(title="PUT", key="C", chords="C").replace('"PUT"', quoted)
    )
    out = tmp_path / "out"
    book = made(folder, out)
    assert book.problems == ()
    assert {path.parent for path in out.rglob("*.pdf")} == {out}
    pdf = reader(out, "Bb")
    pages = [page.extract_text().replace("\n", "") for page in pdf.pages]  # a long title wraps
    assert pages[0] == f"{title}B♭ instruments4 tunes"
    assert [page.startswith(f"{title}D major · ") for page in pages].count(True) == 1
    assert pdf.metadata["/Title"] == f"{title}, B♭ instruments"
    short = title if len(title) <= 90 else f"{title[:89]}…"
    assert f"{short}, D major" in {e.title for e in pdf.outline if not isinstance(e, list)}


def test_a_sign_that_no_font_has_is_told(folder, tmp_path):
    write(folder, "horn", "Horn 🎷", "C", "C")
    book = made(folder, tmp_path / "out")
    assert any("🎷" in notice and "horn.toml" in notice for notice in book.manifest.notices)


@pytest.mark.slow
def test_equal_books_have_equal_bytes_however_many_work_on_them(folder, tmp_path, monkeypatch):
    made(folder, tmp_path / "one", ("own", "Eb"), jobs=1)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "other-cache"))
    made(folder, tmp_path / "two", ("own", "Eb"), jobs=2)
    for path in (tmp_path / "one").iterdir():
        assert (tmp_path / "two" / path.name).read_bytes() == path.read_bytes()


@pytest.mark.slow
def test_only_what_has_changed_is_engraved_again(folder, tmp_path, monkeypatch):
    from accomp.write import sheet_fit

    engraved = []
    real = sheet_fit.engrave

    def counting(score, *rest, **how):
        engraved.append(score.title)
        return real(score, *rest, **how)

    monkeypatch.setattr(sheet_fit, "engrave", counting)
    made(folder, tmp_path / "out", ("own",))
    assert sorted(set(engraved)) == ["Kettle Lane", "Slate Roofs", "The Amber Gate"]
    before = (tmp_path / "out" / "tunes_tenor-banjo.pdf").read_bytes()
    engraved.clear()
    made(folder, tmp_path / "out", ("own",))
    assert engraved == []
    assert (tmp_path / "out" / "tunes_tenor-banjo.pdf").read_bytes() == before
    write(folder, "slate", "Slate Roofs", "Bb", "Bb | Eb | F7 | F7")
    made(folder, tmp_path / "out", ("own",))
    assert set(engraved) == {"Slate Roofs"}
    assert (tmp_path / "out" / "tunes_tenor-banjo.pdf").read_bytes() != before


def engraved_by(monkeypatch):
    """The titles of the tunes that are engraved from now on."""
    from accomp.write import sheet_fit

    titles = []
    real = sheet_fit.engrave
    monkeypatch.setattr(
        sheet_fit,
        "engrave",
        lambda score, *a, **k: titles.append(score.title) or real(score, *a, **k),
    )
    return titles


@pytest.mark.slow
def test_again_engraves_all_tunes_anew(folder, tmp_path, monkeypatch):
    made(folder, tmp_path / "out", ("own",))
    before = (tmp_path / "out" / "tunes_tenor-banjo.pdf").read_bytes()
    titles = engraved_by(monkeypatch)
    made(folder, tmp_path / "out", ("own",), again=True)
    assert set(titles) == {"Kettle Lane", "Slate Roofs", "The Amber Gate"}
    assert (tmp_path / "out" / "tunes_tenor-banjo.pdf").read_bytes() == before


@pytest.mark.slow
def test_pages_of_another_version_in_the_cache_are_not_used(folder, tmp_path, monkeypatch):
    from accomp.job import book_pages

    made(folder, tmp_path / "out", ("own",))
    titles = engraved_by(monkeypatch)
    monkeypatch.setattr(book_pages, "page_makers", lambda: "another version")
    made(folder, tmp_path / "elsewhere", ("own",))
    assert set(titles) == {"Kettle Lane", "Slate Roofs", "The Amber Gate"}


def test_a_players_own_weights_are_among_what_the_pages_are_made_from(folder, monkeypatch):
    from accomp.job import book
    from accomp.neck import default_weights, player

    plan = with_players(read_book(folder), ("own",))
    before = book._needed(plan.tunes[0], plan)
    heavier = {name: 2 * weight + 1 for name, weight in default_weights().by_name().items()}
    own = default_weights().changed(heavier)
    monkeypatch.setattr(player, "default_weights", lambda: own)
    known, keys = book._needed(plan.tunes[0], plan)
    assert (known != before[0], keys) == (True, before[1])


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("harm", ["cut", "garbage", "folder", "pipe", "flipped", "other"])
def test_a_damaged_cache_is_not_needed(harm, folder, tmp_path, own_cache):
    made(folder, tmp_path / "out")
    kept = list((own_cache / "accomp" / "pages").iterdir())
    assert len(kept) == 3
    for path in kept:
        if harm == "cut":
            path.write_bytes(path.read_bytes()[:40])
        elif harm == "flipped":
            data = bytearray(path.read_bytes())
            data[len(data) // 2] ^= 1
            path.write_bytes(data)
        elif harm == "other":  # whole, but not the JSON of a tune's pages
            path.write_bytes(gzip.compress(b"no pages"))
        elif harm == "pipe":
            path.unlink()
            os.mkfifo(path)
        else:
            path.unlink()
            path.mkdir() if harm == "folder" else path.write_bytes(b"no gzip")
    made(folder, tmp_path / "again")
    name = "tunes_Bb.pdf"
    assert (tmp_path / "again" / name).read_bytes() == (tmp_path / "out" / name).read_bytes()


def test_damaged_pages_in_the_hidden_folder_are_made_again(folder, tmp_path, monkeypatch):
    out = tmp_path / "out"

    def stopped(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("accomp.job.book._book_items", stopped)
        with pytest.raises(KeyboardInterrupt):
            made(folder, out)
    for record in (out / WORK).glob("*.done"):
        pages = record.with_name(record.name.replace(".done", "-0"))
        before = hashlib.sha256(pages.read_bytes()).hexdigest()
        pages.write_bytes(b"no JSON")
        now = hashlib.sha256(b"no JSON").hexdigest()
        record.write_text(record.read_text().replace(before, now))
    assert made(folder, out).tunes == 3


def test_what_was_there_stays_when_it_cannot_be_written(folder, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "tunes_Bb.pdf").mkdir()
    (out / "keep.txt").write_text("mine")
    with pytest.raises(OutputError, match="folder stands"):
        made(folder, out)
    assert (out / "keep.txt").read_text() == "mine"
    file = tmp_path / "file"
    file.write_text("x")
    with pytest.raises(OutputError, match="this is a file"):
        made(folder, file)


def test_progress_rises_to_the_end(folder, tmp_path):
    told: list[float] = []
    made(folder, tmp_path / "out", progress=lambda what, share: told.append(share))
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)


@pytest.mark.long
def test_a_killed_run_harms_nothing_and_is_taken_up(folder, tmp_path):
    out = tmp_path / "out"
    for number in range(12):
        write(folder, f"more{number}", f"More {number}", "G", "G | C | D7 | Em | Am | D7 | G | G7")
    out.mkdir()
    (out / "tunes_tenor-banjo.pdf").write_bytes(b"an earlier book")
    command = [
        sys.executable, "-c", "from accomp.cli import main; main()",
        "book", str(folder), "--out", str(out), "--player", "own", "--replace",
    ]  # fmt: skip
    run = subprocess.Popen(command, env=dict(os.environ))
    deadline = time.monotonic() + 600  # on a busy machine it may take long
    while not list(out.glob(".accomp-work/*.done")):
        assert run.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.01)
    run.send_signal(signal.SIGKILL)
    run.wait()
    assert (out / "tunes_tenor-banjo.pdf").read_bytes() == b"an earlier book"
    made(folder, out, ("own",), replace=True)
    made(folder, tmp_path / "clean", ("own",))
    for path in (tmp_path / "clean").iterdir():
        assert (out / path.name).read_bytes() == path.read_bytes()
    assert sorted(p.name for p in out.iterdir()) == ["manifest.json", "tunes_tenor-banjo.pdf"]


@pytest.mark.long
def test_three_hundred_files_five_of_them_broken(tmp_path):
    folder = tmp_path / "many"
    folder.mkdir()
    for number in range(300):
        chords = "C | H | G7 | C" if number % 60 == 7 else "C | F | G7 | C"
        write(folder, f"t{number:03}", f"Tune {number}", "C", chords)
    book = made(folder, tmp_path / "out", jobs=2)
    assert book.tunes == 295
    assert [Path(p.file).name for p in book.problems] == [
        f"t{n:03}.toml" for n in range(7, 300, 60)
    ]
    pdf = reader(tmp_path / "out", "Bb")
    assert "295 tunes" in text(pdf.pages[0])
