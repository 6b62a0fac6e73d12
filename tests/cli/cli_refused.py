"""What every file that cannot be read has in common."""


def refuse(accomp, earlier, path, *words):
    """`make` and `check` both refuse the file and say all the words."""
    for command in (("make", path, "--out", "out"), ("check", path)):
        said = accomp(*command)
        assert said.code == 1
        assert str(path) in said.err
        for word in words:
            assert word in said.err, said.err
        assert not said.out
    earlier()
    said = accomp("check", path, "--json")
    assert (said.code, said.err) == (1, "")
