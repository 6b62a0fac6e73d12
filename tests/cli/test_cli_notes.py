"""What is said beside the result: each thing once, and what the signs mean."""

import pytest

from accomp.cli.making import _once_a_kind


def test_notices_that_differ_in_numbers_are_told_once():
    told = _once_a_kind(
        ["-18.2 LUFS instead of -16.", "No style is named.", "-19 LUFS instead of -16."]
    )
    assert told == [
        "-18.2 LUFS instead of -16. (1 more like this: see manifest.json)",
        "No style is named.",
    ]


def test_the_manifest_keeps_every_notice(accomp, tune, good, tmp_path):
    import json

    text = good.replace("four-light-heavy", "choked-four")
    keys = [word for key in ("C", "D", "F") for word in ("--key", key)]
    said = accomp(
        "make", tune(text), "--out", "out", "--only", "midi", "--open", "--position", "root-top",
        "--position", "fifth-top", *keys,
    )  # fmt: skip
    assert said.code == 0
    notices = json.loads((tmp_path / "out" / "manifest.json").read_text())["notices"]
    told = [line for line in said.err.splitlines() if line.startswith("Note: ")]
    assert len(told) <= len(notices)
    for notice in notices:
        start = notice.split(" bars ")[0]
        assert any(start in line for line in told)


def test_what_the_star_means_is_said(accomp):
    said = accomp("shapes", "C7", "--best", "3")
    assert "0 0 2 1" in said.out
    assert "* is a shape made from the repertoire" in said.out


@pytest.mark.parametrize(("words", "kept"), [((), False), (("--pack",), True)])
def test_who_stops_a_pack_is_told_that_it_goes_on(accomp, tune, monkeypatch, words, kept):
    def stopped(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("accomp.job.make.make_tune", stopped)
    said = accomp("make", tune(), *words)
    assert said.code == 130
    assert ("run the command again" in said.err) == kept
    assert "Stopped" in said.err
