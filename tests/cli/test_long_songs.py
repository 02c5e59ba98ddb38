"""Songs too long for an output are refused with one limit, before the work that would fill memory.

Common practice, no source: which lengths those are; that the error names them and what would do.
"""

import pytest

from groove.errors import OptionError
from groove.io.lengths import MOST_BARS, check_bars
from tests.cli.command import Command


def long_chart(bars: int) -> str:
    """Return a chart of so many bars, with no repeat that a sheet could fold."""
    rows = "| D | A | G | A |\n" * (bars // 4) + "| D |\n" * (bars % 4)
    return f"key: D\nfeel: long notes\nverse:\n{rows}"


@pytest.mark.parametrize("kind", MOST_BARS)
def test_the_limit_itself_is_allowed_and_one_more_is_not(kind: str) -> None:
    most = MOST_BARS[kind]  # type: ignore[index]
    check_bars(kind, most)  # type: ignore[arg-type]
    with pytest.raises(OptionError, match=f"a {kind} of {most + 1} bars is too long") as caught:
        check_bars(kind, most + 1)  # type: ignore[arg-type]
    assert caught.value.hint.startswith(f"expected at most {most} bars: ")


def test_a_page_of_too_many_bars_is_refused_before_it_is_played(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object) -> None:
        raise AssertionError("played all the same")

    monkeypatch.setattr("groove.pipeline.perform_song", never)
    groove.write("song.txt", long_chart(3_001))
    said = groove("page", "song.txt")
    assert said.code == 2
    assert said.err.startswith(
        "a practice page of 3001 bars is too long\n  expected at most 3000 bars: make a page of"
    )
    assert groove.files() == {"song.txt"}


@pytest.mark.parametrize("name", ["part.pdf", "part.svg", "part.png"])
def test_a_sheet_of_too_many_bars_is_refused_before_it_is_drawn(
    groove: Command, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setitem(MOST_BARS, "drawn sheet", 12)
    groove.write("song.txt", long_chart(16))
    said = groove("sheet", "song.txt", "-o", name)
    assert said.code == 2
    assert (
        "a drawn sheet of 16 bars is too long\n  expected at most 12 bars: choose some" in said.err
    )
    assert groove.files() == {"song.txt"}
    assert groove("sheet", "song.txt", "-o", "part.musicxml").code == 0
    assert groove("sheet", "song.txt", "-o", name, "--bars", "1-12").code == 0
