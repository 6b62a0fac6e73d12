"""What an error says of itself: its place, its exit code, its problems, in another process too."""

from __future__ import annotations

import errno
import os
import pickle
from pathlib import Path
from typing import get_args

import pytest

from accomp import errors
from accomp.errors import INTERRUPTED, AccompError, InputError, OutputError, Problem


@pytest.mark.parametrize(
    ("problem", "text"),
    [
        (Problem("too long."), "too long."),
        (Problem("too long.", hint="Cut it."), "too long. Cut it."),
        (Problem("too long.", "a.toml"), "a.toml: too long."),
        (Problem("too long.", "a.toml", 3), "a.toml:3: too long."),
        (Problem("too long.", "a.toml", 3, 7), "a.toml:3:7: too long."),
        (Problem("too long.", line=3, column=7), "line 3:7: too long."),
        (Problem("too long.", "a.toml", column=7), "a.toml: too long."),
        (Problem("too long.", setting="keys"), "keys: too long."),
        (Problem("too long.", "a.toml", setting="keys"), "a.toml: too long."),
    ],
)
def test_a_problem_says_where_first_and_what_to_do_last(problem: Problem, text: str) -> None:
    assert str(problem) == text


def test_every_error_ends_the_program_with_1() -> None:
    assert AccompError.exit_code == 1
    assert {one.exit_code for one in vars(errors).values() if _is_error(one)} == {1}
    assert INTERRUPTED == 128 + 2, "as shells say of whoever SIGINT (2) has ended"


def _is_error(one: object) -> bool:
    return isinstance(one, type) and issubclass(one, AccompError)


def test_problems_come_whole_from_another_process_and_out_of_any_error() -> None:
    both = Problem("one.", "a.toml", 1, 2, setting="keys", helps=("only",)), Problem("two.")
    error = pickle.loads(pickle.dumps(InputError(both)))
    assert (error.problems, str(error)) == (both, "a.toml:1:2: one.\ntwo.")
    assert errors.problems_of(error, Path("b.toml")) == both
    full = OutputError("full.", helps=("folder",))
    assert errors.problems_of(full, Path("b.toml")) == (
        Problem("full.", "b.toml", helps=("folder",)),
    )


def test_what_nobody_foresaw_is_the_programs_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("ACCOMP_DEBUG", raising=False)
    (problem,) = errors.problems_of(KeyError("bar"), Path("b.toml"))
    assert problem.file == "b.toml"
    assert problem.message.startswith("accomp itself failed (KeyError: 'bar'). This is a fault of")
    monkeypatch.setenv("ACCOMP_DEBUG", "1")
    with pytest.raises(KeyError):
        errors.own_fault(KeyError("bar"))


def test_a_reason_is_the_systems_own_words() -> None:
    said = os.strerror(errno.ENOSPC).lower()
    assert errors.reason(OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "a.mid")) == said
    assert errors.reason(OSError("Bad Pipe")) == "bad pipe", "some say no more than this"


def test_an_engines_fault_is_its_addresss_and_a_plain_one_its_files() -> None:
    engine = errors.ClusterError("lost.", helps=("cluster",))
    assert engine.problems_in("a.toml") == (Problem("lost.", setting="cluster"),)
    assert errors.SoundError("none.").problems_in("a.toml") == (Problem("none.", "a.toml"),)
    one = InputError(Problem("one."))
    assert one.problems == (Problem("one."),)
    assert InputError(iter([Problem("one."), Problem("two.")])).problems[1:] == (Problem("two."),)
    assert AccompError().helps == ()
    assert str(AccompError()) == ""


def test_ctrl_c_while_the_command_line_is_imported_is_its_own_exit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import accomp.cli
    from accomp import __main__

    asked: list[str] = []

    def stopped() -> None:
        asked.append("asked")
        raise KeyboardInterrupt

    monkeypatch.setattr(accomp.cli, "main", stopped)
    with pytest.raises(SystemExit) as caught:
        __main__.main()
    assert (caught.value.code, asked) == (130, ["asked"])
    monkeypatch.setattr(accomp.cli, "main", lambda: asked.append("again"))
    __main__.main()
    assert asked == ["asked", "again"]


def test_what_is_of_another_type_is_told_in_the_same_words_everywhere() -> None:
    (one,) = errors.needed("options are", None, "Write Options().").problems
    assert one.message == "options are needed here, and this is of type NoneType."
    assert (one.found, one.expected, one.hint) == ("NoneType", "options", "Write Options().")
    (one,) = errors.needed("a stream is", 5, "Read one.", "a score").problems
    assert (one.found, one.expected) == ("int", "a score")
    assert str(one) == "a stream is needed here, and this is of type int. Read one."


def test_the_front_gives_what_it_lists_and_nothing_else() -> None:
    import accomp

    assert accomp.__getattr__("tune") is accomp.tune
    with pytest.raises(AttributeError, match="module 'accomp' has no attribute 'nothing'"):
        accomp.__getattr__("nothing")
    assert set(accomp.__all__) <= set(dir(accomp))
    assert dir(accomp) == sorted(dir(accomp))
    from accomp.outward import OutwardKind, made

    assert set(accomp._MAKERS) == set(get_args(OutwardKind))
    assert all(callable(accomp._maker(kind)) for kind in accomp._MAKERS)
    with pytest.raises(KeyError):
        made("nothing")
