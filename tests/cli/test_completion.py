"""What the shell is offered: bash's own variables in, one value a line out.

``COMP_WORDS`` and ``COMP_CWORD`` are those of the GNU Bash manual, 5.2, "Programmable Completion".
"""

from collections.abc import Callable

import pytest

from groove.cli.completion import LISTS, OFFERS
from groove.cli.main import EXAMPLES, _takers
from groove.cut import ClickUnit
from groove.io.library import load_library, patterns_root
from groove.neck.instrument import TUNINGS
from tests.cli.command import Command

CHART = "title: x\nverse:\n| D |\nverse 2:\n| G |\nlast chorus:\n| A |\n"


@pytest.fixture
def offered(groove: Command, monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[str]]:
    groove.write("song.txt", CHART)
    groove.write("broken.txt", "verse:\n| Gmja7 |\n")

    def ask(*words: str) -> list[str]:
        monkeypatch.setenv("_GROOVE_COMPLETE", "complete_bash")
        monkeypatch.setenv("COMP_WORDS", " ".join(("groove", *words)))
        monkeypatch.setenv("COMP_CWORD", str(len(words)))
        said = groove()
        monkeypatch.delenv("_GROOVE_COMPLETE")
        assert said.err == ""
        return said.out.splitlines()

    return ask


def test_feels_and_styles(offered: Callable[..., list[str]]) -> None:
    feels = load_library().feels
    found = offered("render", "song.txt", "--feel", "b")
    assert {"ballad", "bossa", "bolero"} <= set(found)
    assert [name for name in feels if name.startswith("b")] == [n for n in found if n in feels]
    styles = {style for feel in feels.values() for style in feel.also if style.startswith("b")}
    assert set(found) == styles | {name for name in feels if name.startswith("b")}


def test_sections_of_the_chart_on_the_line(offered: Callable[..., list[str]]) -> None:
    assert offered("tab", "song.txt", "--sections", "v") == ["verse", "verse 2"]
    assert offered("tab", "song.txt", "--sections", "verse,l") == ["verse,last chorus"]
    assert offered("tab", "song.txt", "--sections", "verse,v") == ["verse,verse 2"]
    assert not any(offered("tab", "broken.txt", "--sections", "v"))
    assert not any(offered("tab", "none.txt", "--sections", "v"))


def test_sizes_staves_tunings_and_parts(offered: Callable[..., list[str]]) -> None:
    assert offered("sheet", "song.txt", "--size", "l") == ["letter", "landscape"]
    assert offered("sheet", "song.txt", "--staves", "t") == ["tab"]
    assert offered("sheet", "song.txt", "--part", "k") == ["keys"]
    assert offered("tab", "song.txt", "--tuning", "f") == [n for n in TUNINGS if n[0] == "f"]
    assert offered("render", "song.txt", "--without", "bass,d") == ["bass,drums"]
    assert offered("render", "song.txt", "--bits", "2") == ["24"]
    assert offered("render", "song.txt", "--rate", "4") == ["44100", "48000"]
    assert offered("render", "song.txt", "--vary", "m") == ["much"]
    assert offered("tab", "song.txt", "--open", "f") == ["free"]


def test_clicks_players_and_lists_of_parts(offered: Callable[..., list[str]]) -> None:
    assert offered("drill", "song.txt", "--click", "") == [unit.value for unit in ClickUnit]
    assert offered("sheet", "song.txt", "--for", "") == ["Bb", "Eb"]
    assert offered("drill", "song.txt", "--bass", "") == ["first", "always"]
    assert offered("render", "song.txt", "--only", "bass,d") == ["bass,drums"]


def test_case_means_nothing_and_own_feels_are_offered(
    groove: Command, offered: Callable[..., list[str]]
) -> None:
    """What is typed stays as it is, for shells take nothing else; both are read alike."""
    drop = [name for name in TUNINGS if name.startswith("drop")]
    found = offered("tab", "song.txt", "--tuning", "DROP")
    assert found == ["DROP" + name[4:] for name in drop] != []
    assert groove("tab", "song.txt", "--tuning", found[0]).code == 0
    assert offered("tab", "song.txt", "--sections", "VERSE,L") == ["VERSE,Last chorus"]
    folder = groove.folder / "mine" / "feels"
    folder.mkdir(parents=True)
    soul = (patterns_root() / "feels" / "soul.toml").read_text(encoding="utf-8")
    own = soul.replace('name = "soul"', 'name = "quarry step"').replace("also", "# also")
    (folder / "quarry-step.toml").write_text(own, encoding="utf-8")
    words = ("render", "song.txt", "--patterns", "mine", "--feel", "q")
    assert "quarry step" in offered(*words)
    assert "quarry step" not in offered("render", "song.txt", "--feel", "q")


def test_every_offer_is_of_an_option() -> None:
    for option in (*OFFERS, *LISTS):
        assert _takers(option), option
        assert set(_takers(option)) <= set(EXAMPLES)
