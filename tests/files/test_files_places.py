"""Places of keys, values and characters, against a writer that notes where it puts them.

The writer below knows TOML 1.0 (toml.io/en/v1.0.0) from its specification, and counts lines and
columns by itself; tomllib judges that what it writes means what it should.
"""

import tomllib
from dataclasses import dataclass, field

import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from accomp.files.toml import parse_toml


@dataclass
class Writer:
    """Text so far, with the place (line, column) that comes next."""

    text: str = ""
    line: int = 1
    column: int = 1
    values: dict = field(default_factory=dict)
    keys: dict = field(default_factory=dict)
    signs: dict = field(default_factory=dict)

    @property
    def place(self):
        return self.line, self.column

    def put(self, text):
        for sign in text:
            self.text += sign
            if sign == "\n":
                self.line, self.column = self.line + 1, 1
            else:
                self.column += 1


# Each character of a string: how it is written, and what it means.
PLAIN = [(sign, sign) for sign in "ab é♭漢🪕|/#=[]{},."]
BASIC = [(r"\t", "\t"), (r"\"", '"'), (r"\\", "\\"), (r"\u00E9", "é"), (r"\U0001F3B5", "🎵")]
LONG = [("\n", "\n"), ("'", "'"), ("\\\n", ""), ("\\  \n \n\t ", "")]
KINDS = {
    '"': PLAIN + BASIC + [("'", "'")],
    "'": [*PLAIN, ('"', '"'), ("\\", "\\")],
    '"""': PLAIN + BASIC + LONG,
    "'''": [*PLAIN, ("\n", "\n"), ("\\", "\\"), ('"', '"')],
}


@st.composite
def strings(draw):
    quote = draw(st.sampled_from(sorted(KINDS)))
    return quote, draw(st.booleans()), draw(st.lists(st.sampled_from(KINDS[quote]), max_size=12))


def put_string(writer, path, drawn):
    quote, first_line_end, pieces = drawn
    writer.values[path] = writer.place
    writer.put(quote)
    if len(quote) == 3:
        if pieces and pieces[0][0] == "\n":
            first_line_end = True  # else the string's own line end would be dropped
        if first_line_end:
            writer.put("\n")
    places, meaning, trimmed = [], "", False
    for raw, sign in pieces:
        if trimmed and sign and sign in " \n":
            continue  # white space after a line-ending backslash would be dropped with it
        if sign:
            places.append(writer.place)
        writer.put(raw)
        meaning += sign
        trimmed = not sign
    writer.signs[path] = [*places, writer.place]
    writer.put(quote)
    return meaning


values = st.deferred(
    lambda: (
        strings()
        | st.sampled_from([1, -2.5, True, "1979-05-27T07:32:00Z"])
        | st.lists(values, max_size=3)
        | st.dictionaries(st.sampled_from(["a", "b-1", "c d", "é"]), values, max_size=3)
    )
)
GAPS = st.sampled_from(["", " ", "\n", " # remark ]\n", "\n\n  "])


def put_value(draw, writer, path, value):
    if isinstance(value, tuple):
        return put_string(writer, path, value)
    writer.values[path] = writer.place
    if isinstance(value, list):
        writer.put("[")
        for at, item in enumerate(value):
            writer.put(draw(GAPS))
            put_value(draw, writer, (*path, at), item)
            writer.put(draw(GAPS) + ("," if at < len(value) - 1 or draw(st.booleans()) else ""))
        writer.put(draw(GAPS) + "]")
    elif isinstance(value, dict):
        writer.put("{")
        for at, (key, item) in enumerate(value.items()):
            writer.put(", " if at else draw(st.sampled_from(["", " "])))
            put_pair(draw, writer, path, key, item)
        writer.put("}")
    elif isinstance(value, bool):
        writer.put("true")
    else:
        writer.put(str(value))
    return None


def put_pair(draw, writer, path, key, value):
    bare = key.isascii() and " " not in key
    writer.keys[(*path, key)] = writer.place
    writer.put(key if bare and draw(st.booleans()) else f'"{key}"')
    writer.put(draw(st.sampled_from(["=", " = ", "\t="])))
    return put_value(draw, writer, (*path, key), value)


@st.composite
def documents(draw):
    writer, meanings = Writer(), {}
    for number, value in enumerate(draw(st.lists(values, max_size=4))):
        key = f"k{number}"
        meaning = put_pair(draw, writer, (), key, value)
        meanings[key] = meaning
        writer.put(draw(st.sampled_from(["\n", " # end\n", "\n\n"])))
    return writer, meanings


@settings(max_examples=examples(150))
@given(documents())
def test_places_are_where_the_writer_put_them(drawn):
    writer, meanings = drawn
    if not writer.text.strip():
        return
    data = tomllib.loads(writer.text)
    for key, meaning in meanings.items():
        if meaning is not None:
            assert data[key] == meaning
    document = parse_toml(writer.text, "x.toml")
    for path, place in writer.values.items():
        assert document.place(*path) == place
    for path, place in writer.keys.items():
        assert document.key_place(*path) == place
    for path, places in writer.signs.items():
        got = [document.inside(offset, *path) for offset in range(len(places))]
        assert got == places


# (text, path, place of the value): the line and column were counted by hand.
TABLES = [
    ("a.b.c = 1\n", ("a", "b", "c"), (1, 9)),
    ("a . b = 1\n", ("a", "b"), (1, 9)),
    ('"a.b" = 1\n', ("a.b",), (1, 9)),
    ("[t]\nx = 1\n", ("t", "x"), (2, 5)),
    ("[t.u]\nx = 1\n", ("t", "u", "x"), (2, 5)),
    ("[t]#x = 1\ny = 2\n", ("t", "y"), (2, 5)),
    ("[[t]]#x = 1\ny = 2\n", ("t", 0, "y"), (2, 5)),
    ('[ t . "u v" ]\n  x = 1\n', ("t", "u v", "x"), (2, 7)),
    ("[[c]]\n[[c]]\nx = 1\n", ("c", 1, "x"), (3, 5)),
    ("[[c]]\n[c.d]\nx = 1\n", ("c", 0, "d", "x"), (3, 5)),
    ("[[c]]\n[[c.d]]\n[[c.d]]\nx=1\n[[c]]\n[[c.d]]\nx=2\n", ("c", 1, "d", 0, "x"), (7, 3)),
    ("[[c]]\n[[c.d]]\n[[c.d]]\nx=1\n[[c]]\n[[c.d]]\nx=2\n", ("c", 0, "d", 1, "x"), (4, 3)),
    ("t = { a.b = 1, c = [2, 3] }\n", ("t", "c", 1), (1, 24)),
    ("d = 1979-05-27 07:32:00 # date\ne = 1\n", ("e",), (2, 5)),
    ("a = [\n  1, # one, two ]\n  2,\n]\nb = 3\n", ("a", 1), (3, 3)),
    ('t = { m = """\n}\n""", n = 4 }\n', ("t", "n"), (3, 10)),
]


@pytest.mark.parametrize(("text", "path", "place"), TABLES)
def test_tables_of_every_form(text, path, place):
    assert parse_toml(text, "").place(*path) == place


def test_quotes_at_the_end_of_a_long_string_are_text():
    document = parse_toml('a = """x"""""\nb = \'\'\'y\'\'\'\'\n', "")
    assert document.data == {"a": 'x""', "b": "y'"}
    assert [document.inside(at, "a") for at in range(4)] == [(1, 8), (1, 9), (1, 10), (1, 11)]
    assert document.place("b") == (2, 5)


def test_carriage_returns_take_no_column():
    document = parse_toml('a = """\r\nx\r\ny"""\r\nb = "é♭x"\r\n', "")
    assert document.inside(2, "a") == (3, 1)
    assert document.inside(2, "b") == (4, 8)


def test_place_of_what_is_not_there_is_the_nearest_around_it():
    document = parse_toml("x = 1\n[t]\ny = 2\n", "")
    assert document.place("t", "z") == document.key_place("t", "z") == (2, 2)
    assert document.place("z") == (1, 1)
    assert document.inside(3, "x") == document.place("x")
    assert document.inside(3, "t", "z") == (2, 2)
    assert document.inside(99, "t", "y") == document.place("t", "y")
