"""The page as a file: what is in it, how large it is, and that nothing of a tune is markup."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from web_pages import CHOKED, example, made_page

import accomp.web
from accomp.tune import parse_tune
from accomp.web.page import in_script
from accomp.web.template import BUILT, filled

WEB = Path(accomp.web.__file__).parent
MB = 1_000_000
HOSTILE = (
    "</script><script>window.hurt = 1</script>",
    "</script <img src=x onerror=window.hurt=1 </title/",
    "<img src=x onerror='window.hurt = 1'>",
    """"quoted" & 'single' ]]> --> <!-- {{timeline}}""",
    "\u202eright to left\u2066 \u2028 \u200f",
    "x" * 300,
)


class _Elements(HTMLParser):
    """Elements of a page, and the text of some."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.title = ""
        self._in = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self._in = tag

    def handle_data(self, data: str) -> None:
        if self._in == "title":
            self.title += data
            self._in = ""


def _timeline(page: bytes) -> dict:
    found = re.search(rb'id="timeline">(.*?)</script>', page, re.DOTALL)
    assert found
    return json.loads(found[1])


def test_a_page_of_32_bars_is_small(parade: Path) -> None:
    assert parade.stat().st_size < 2.5 * MB
    value = _timeline(parade.read_bytes())
    assert len(value["bars"]) == 32
    assert len(value["versions"]) == 1


@pytest.mark.slow
def test_a_page_of_three_positions_is_small(positions: Path) -> None:
    assert len(_timeline(positions.read_bytes())["versions"]) >= 3
    assert positions.stat().st_size < 4 * MB


@pytest.mark.slow
@pytest.mark.many(2)
@pytest.mark.parametrize(
    "title", HOSTILE, ids=["script", "open", "image", "quotes", "direction", "long"]
)
def test_a_title_is_text_and_never_markup(title: str, parade: Path) -> None:
    tune = parse_tune(CHOKED, "choked.toml")
    section = replace(tune.sections["A"], name=title)
    page = made_page(replace(tune, title=title, sections={title: section}, form=(title,)))
    plain = _Elements(parade.read_text(encoding="utf-8")).tags
    found = _Elements(page.decode())
    assert found.tags == plain
    assert found.title == f"{' '.join(title.split())}: practice"
    text = page.decode()
    inner = text[text.index('id="timeline">') + 14 : text.index('<script type="text/plain"')]
    assert inner.count("<") == 1, "only the end of the element"
    value = _timeline(page)
    assert value["title"] == title
    assert value["bars"][0]["section"] == title


def test_what_stands_in_a_part_is_not_filled_again() -> None:
    assert filled("{{a}} {{b}}", {"a": "{{b}}", "b": "$1"}) == "{{b}} $1"
    assert json.loads(in_script(json.dumps("</script>\u2028&", ensure_ascii=False))) == (
        "</script>\u2028&"
    )


def test_the_policy_names_what_is_there_and_forbids_the_rest(parade: Path) -> None:
    text = parade.read_text(encoding="utf-8")
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy
    rules = dict(rule.split(" ", 1) for rule in
                 policy[1].replace("&#x27;", "'").split("; "))  # fmt: skip
    script = re.search(r"<script>(.*?)</script>", text, re.DOTALL)
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert script
    assert style
    for rule, inner in (("script-src", script[1]), ("style-src", style[1])):
        hashed = base64.b64encode(hashlib.sha256(inner.encode()).digest()).decode()
        assert f"'sha256-{hashed}'" in rules[rule]
        assert "unsafe-inline" not in rules[rule]
    assert rules["default-src"] == rules["connect-src"] == "'none'"


def test_the_page_asks_for_nothing_from_anywhere(parade: Path) -> None:
    text = parade.read_text(encoding="utf-8")
    body = text[: text.index('<script type="application/json"')]
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!#)""", body)
    assert not re.search(r"url\((?!data:)", body)


def _made_of() -> dict:
    """What the built files are made of: names, versions, licences, SHA-256."""
    return json.loads((BUILT / "made.json").read_text(encoding="utf-8"))


def test_it_says_whose_its_parts_are(parade: Path) -> None:
    text = parade.read_text(encoding="utf-8")
    for part in _made_of()["parts"]:
        assert part["name"] in text
        assert part["version"] in text
        assert part["licence"] == "Apache-2.0"
    for words in (
        "TimGM6mb", "pretty_midi", "GNU GENERAL PUBLIC LICENSE", "Libertinus Serif",
        "SIL OPEN FONT LICENSE", "Apache License", 'lang="en"',
    ):  # fmt: skip
        assert words in text, words


@pytest.mark.slow
def test_the_same_tune_gives_the_same_bytes_in_every_process(tmp_path: Path) -> None:
    tune = tmp_path / "choked.toml"
    tune.write_text(CHOKED)
    made = set()
    for seed in ("1", "2"):
        out = tmp_path / seed
        command = [sys.executable, "-m", "accomp", "practice", str(tune), "--out", str(out)]
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=120,
            env={"PYTHONHASHSEED": seed, "PATH": "/usr/bin:/bin", "HOME": str(Path.home())},
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        (page,) = out.iterdir()
        assert page.name == "four-choked-bars_practice.html"
        made.add(page.read_bytes())
    assert len(made) == 1


def test_the_built_script_is_what_its_sources_give(tmp_path: Path) -> None:
    """By the hashes it was built with; where Node's packages are, by building it again."""
    made = _made_of()
    for name, sha256 in made["sources"].items():
        assert hashlib.sha256((WEB / "script" / name).read_bytes()).hexdigest() == sha256, (
            f"{name} has changed: run `make web`"
        )
    assert {p.name for p in (WEB / "script").glob("*.ts")} <= set(made["sources"])
    for name, sha256 in made["files"].items():
        assert hashlib.sha256((BUILT / name).read_bytes()).hexdigest() == sha256


@pytest.mark.slow
def test_the_script_is_built_again_byte_for_byte(tmp_path: Path) -> None:
    if not (WEB / "script" / "node_modules").is_dir():
        pytest.skip("Node's packages are not installed")
    subprocess.run(
        ["node", "build.mjs", str(tmp_path)], cwd=WEB / "script", check=True, timeout=120
    )
    for path in tmp_path.iterdir():
        assert path.read_bytes() == (BUILT / path.name).read_bytes(), path.name


@pytest.mark.long
def test_the_type_is_cut_again_byte_for_byte() -> None:
    pytest.importorskip("brotli", reason="brotli is not installed")
    import typst

    from docs.page_type import FACES, embedded, woff2

    library = next(Path(typst.__file__).parent.glob("*.so"))
    fonts = dict(embedded(library.read_bytes()))
    for face, name in FACES.items():
        assert woff2(fonts[face]) == (BUILT / name).read_bytes(), name


@pytest.mark.long
def test_another_seed_another_style_another_page(choked: Path) -> None:
    tune = parse_tune(CHOKED, "choked.toml")
    assert made_page(tune, choruses=1) == choked.read_bytes()
    assert made_page(tune, choruses=1, style="flat-four") != choked.read_bytes()


@pytest.mark.long
def test_a_page_of_every_example_is_made() -> None:
    for name in ("wide-water", "seven-stiles"):
        assert len(made_page(example(name), choruses=1)) < 2.5 * MB
