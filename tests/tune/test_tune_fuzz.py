"""Whatever stands in a tune file, only our own error comes out, in steps as the file is long."""

from pathlib import Path

import pytest
from drawn import examples
from growth import grows_linearly
from hypothesis import given, settings
from hypothesis import strategies as st
from made_tunes import SYMBOLS, tune_texts

from accomp.errors import InputError
from accomp.tune import parse_tune, read_tune, tune_toml

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
TEXTS = [path.read_text(encoding="utf-8") for path in EXAMPLES]
PIECES = [
    *SYMBOLS,
    *["| ", "|", "\n", '"', "'", '"""', "=", "[", "]", "[[", "{", "}", ",", ".", "#", "\\", "\t"],
    *["title", "key", "tempo", "form", "[sections]", "nan", "inf", "-1", "1e400", "true", "0xFF"],
    *["1979-05-27", "é", "漢", "\u2028", "\u202e", "\0", "\ufeff", "🪕", "H7", "9" * 50, "bars"],
]  # fmt: skip


def read_or_refuse(text):
    """Read a text: it is a tune that can be written and read again, or is refused properly."""
    tune, problems = None, ()
    try:
        tune = parse_tune(text, "t.toml")
    except InputError as error:
        problems = error.problems
    assert (tune is None) == bool(problems)
    if tune is not None:
        assert parse_tune(tune_toml(tune), "") == tune
    lines = text.replace("\r\n", "\n").split("\n")
    for problem in problems:
        assert problem.message
        assert problem.file == "t.toml"
        assert len(str(problem)) < 1500
        if problem.line:
            assert 1 <= problem.line <= len(lines)
            assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1


@settings(max_examples=examples(100))
@given(st.text(max_size=200) | st.lists(st.sampled_from(PIECES), max_size=60).map("".join))
def test_any_text(text):
    read_or_refuse(text)


@settings(max_examples=examples(60))
@given(st.binary(max_size=300))
def test_any_bytes(tmp_path_factory, raw):
    path = tmp_path_factory.getbasetemp() / "fuzz-tune.toml"
    path.write_bytes(raw)
    with pytest.raises(InputError):  # no 300 bytes at random are a tune
        read_tune(path)


@pytest.mark.slow
@settings(max_examples=examples(150))
@given(st.sampled_from(TEXTS) | tune_texts(), st.data())
def test_good_files_with_pieces_cut_out_and_put_in(text, data):
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 30)))
        text = text[:start] + data.draw(st.sampled_from(["", *PIECES])) + text[end:]
    read_or_refuse(text)


@settings(max_examples=examples(150))
@given(st.data())
def test_good_files_with_a_value_of_another_type(data):
    lines = data.draw(st.sampled_from(TEXTS)).split("\n")
    at = data.draw(st.sampled_from([at for at, line in enumerate(lines) if " = " in line]))
    values = ["1", "1.5", "true", "[]", "{}", "{ a = 1 }", '["A", 1]', "1979-05-27", "nan", '""']
    lines[at] = f"{lines[at].split('=')[0]}= {data.draw(st.sampled_from(values))}"
    read_or_refuse("\n".join(lines))


HEAD = 'title = "T"\nkey = "F"\nmeter = "4/4"\ntempo = 120\n'
HALF = 200_000
ONE_BAR = '[sections]\nA = "| F |"\n'
# Texts of about so many characters, or of a share of so many things.
HUGE = {
    "bars": lambda size: f'{HEAD}[sections]\nA = "{"| F " * (size // 2)}|"',
    "wrong chords": lambda size: (
        HEAD + '[sections]\nA = "' + "".join(f"|Q{at}" for at in range(size // 5)) + '|"'
    ),
    "wrong chords in sections of their own": lambda size: (
        HEAD + "[sections]\n" + "".join(f'A{at} = "| Q{at} |"\n' for at in range(size // 7))
    ),
    "one bar": lambda size: f'{HEAD}[sections]\nA = "| {"F " * size}|"',
    "one token": lambda size: f'{HEAD}[sections]\nA = "| {"F" * size}|"',
    "one chord with very many alterations": lambda size: (
        f'{HEAD}[sections]\nA = "| Cm7{"(b9)" * (size // 4)}|"'
    ),
    "lines outside bars": lambda size: f'{HEAD}[sections]\nA = """\n' + "x\n" * size + '"""',
    "empty bars": lambda size: f'{HEAD}[sections]\nA = "{"|" * size}"',
    "form": lambda size: HEAD + "form = [" + '"A", ' * (size // 5) + "]\n" + ONE_BAR,
    "wrong form": lambda size: HEAD + "form = [" + '"B", ' * (size // 5) + "]\n" + ONE_BAR,
    "wrong names": lambda size: (
        HEAD
        + f"form = [{', '.join(f'{chr(34)}A{at}{chr(34)}' for at in range(size // 22))}]\n"
        + "[sections]\n"
        + "".join(f'B{at} = "| F |"\n' for at in range(size // 22))
    ),
    "slashes through the form": lambda size: (
        HEAD + 'form = ["A"' + ', "B"' * (size // 105) + "]\n" + ONE_BAR + 'B = "| / |"'
    ),
    "sections that carry on": lambda size: (
        HEAD + ONE_BAR + "".join(f'B{at} = "| / |"\n' for at in range(size // 105))
    ),
    "unknown keys": lambda size: HEAD + "".join(f"key_name_{at} = 1\n" for at in range(size // 10)),
    "choruses": lambda size: HEAD + ONE_BAR + "[[chorus]]\n" * (size // 10),
    "title": lambda size: HEAD.replace("T", "T" * size, 1) + ONE_BAR,
    "tempo": lambda size: HEAD.replace("120", "0x" + "F" * size) + ONE_BAR,
}


@pytest.mark.many(1, 6)
@pytest.mark.parametrize("name", HUGE)
def test_huge_files_are_read_or_refused(name):
    read_or_refuse(HUGE[name](HALF))


@pytest.mark.parametrize("name", HUGE)
def test_reading_takes_steps_as_a_file_is_long(name):
    size = 12_000 if name == "wrong names" else 3000  # each is held against 500 others at most
    assert grows_linearly(lambda times: read_or_refuse(HUGE[name](times)), size)


def test_a_file_of_ten_megabytes_is_refused(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text(HEAD + '[sections]\nA = "| F |"\n#' + "x" * 10_000_000)
    with pytest.raises(InputError, match="larger than 1000 kB"):
        read_tune(path)
