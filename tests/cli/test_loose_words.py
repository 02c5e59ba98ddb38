"""Words of a call that its command cannot take: told before anything is made, with a cure."""

import pytest

from tests.cli.command import Command

CHART = "title: T\nverse:\n| D |\nchorus:\n| G |\nchorus 2:\n| A |\n"

QUOTED = "a value of several words stands in quotes: "


@pytest.mark.parametrize(
    ("arguments", "loose", "hint"),
    [
        (("tab", "song.txt", "--feel", "one", "drop"), "drop", QUOTED + '--feel "one drop"'),
        (("tab", "--feel", "one", "drop", "song.txt"), "drop", QUOTED + '--feel "one drop"'),
        (("tab", "song.txt", "--sections", "chorus", "2"), "2", QUOTED + '--sections "chorus 2"'),
        (("tab", "song.txt", "--sections=chorus", "2"), "2", QUOTED + '--sections "chorus 2"'),
        (
            ("render", "song.txt", "--feel", "swing", "in", "two", "-o", "x.mid"),
            "in",
            QUOTED + '--feel "swing in two"',
        ),
        (("render", "song.txt", "--tempo", "70", "%"), "%", QUOTED + '--tempo "70 %"'),
        (("render", "song.txt", "--count-in", "2"), "2", "--count-in takes no value"),
        (("render", "--no-count-in", "2", "song.txt"), "2", "--no-count-in takes no value"),
        (("show", "song.txt", "--numerals", "yes"), "yes", "--numerals takes no value"),
    ],
)
def test_a_loose_word_is_told_before_anything_is_made(
    groove: Command, arguments: tuple[str, ...], loose: str, hint: str
) -> None:
    groove.write("song.txt", CHART)
    said = groove(*arguments)
    assert (said.code, said.out) == (2, "")
    assert said.err == f"there is no chart called {loose!r}\n  {hint}\n"
    assert groove.files() == {"song.txt"}


def test_what_the_hint_says_does(groove: Command) -> None:
    groove.write("song.txt", CHART)
    said = groove("tab", "song.txt", "--sections", "chorus 2")
    assert said.code == 0
    assert "chorus 2, bar 3" in said.out and "bar 2" not in said.out


def test_a_chart_whose_name_has_no_ending_is_no_loose_word(groove: Command) -> None:
    """Nor one that is missing, and told beside those that are not."""
    for name in ("song.txt", "drop"):
        groove.write(name, CHART)
    assert groove("tab", "song.txt", "--feel", "ballad", "drop").code == 0
    assert groove("show", "--numerals", "drop").code == 0
    said = groove("show", "song.txt", "--numerals", "gone.txt")
    assert said.code == 1 and "gone.txt: No such file" in said.err and "chorus 2" in said.out


@pytest.mark.parametrize(
    ("arguments", "found", "hint"),
    [
        # Who takes an option is what each command's own --help says: the next test.
        (
            ("show", "song.txt", "--sections", "chorus"),
            "--sections",
            "is for render, tab, sheet, drill, take",
        ),
        (("show", "song.txt", "--numeral"), "--numeral", "nearest: --numerals"),
        (("tab", "song.txt", "--zork"), "--zork", "groove tab --help lists what there is"),
        (("tab", "song.txt", "-z"), "-z", "groove tab --help lists what there is"),
        (("--zork",), "--zork", "groove --help lists what there is"),
    ],
)
def test_an_option_that_a_command_has_not(
    groove: Command, arguments: tuple[str, ...], found: str, hint: str
) -> None:
    groove.write("song.txt", CHART)
    said = groove(*arguments)
    assert (said.code, said.out) == (2, "")
    first, second = said.err.splitlines()
    assert first == f"no such option: {found}"
    assert second.endswith(hint)
    assert "ossible" not in said.err


@pytest.mark.parametrize("option", ["--sections", "--without", "--no-count-in"])
def test_who_takes_an_option_is_told_as_the_help_of_each_says(groove: Command, option: str) -> None:
    commands = ["render", "show", "tab", "neck", "card", "sheet", "page", "drill", "take"]
    commands += ["feels", "setup"]
    takers = [name for name in commands if option in groove(name, "--help").out]
    assert takers
    other = next(name for name in commands if name not in takers)
    said = groove(other, option)
    assert said.err.splitlines()[1] == f"  {option} is for {', '.join(takers)}"
