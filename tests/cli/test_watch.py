"""``--watch`` of every command that has it: edit, save, hear; in a process of its own once.

Two seconds are the project's promise; 130 is a shell's code for Ctrl-C (IEEE Std 1003.1, Shell
Command Language, 2.8.2).
"""

import re
from functools import partial
from pathlib import Path

import mido
import pytest

from tests.cli.command import Command
from tests.cli.watched import HEARD_SEC, Watched, watched_here
from tests.click_font import EVERY_PRESET, click_font

SONG = "title: Small Song\nkey: D\nfeel: {feel}\nverse:\n| D | {chord} |\n"
CELL = """format = 1
name = "mine"
summary = "a cell of a test"
meter = "4/4"
slots_per_beat = 2
steps  = "R - R - R - {last} -"
levels = "9 . 9 . 9 . 7 ."
"""


def song(chord: str = "A", feel: str = "straight eighths") -> str:
    """A chart of two bars."""
    return SONG.format(chord=chord, feel=feel)


def pitches(file: Path) -> set[int]:
    """The bass's pitch classes (General MIDI: its channel is not the tenth), by mido."""
    track = next(t for t in mido.MidiFile(file).tracks if t.name.casefold().startswith("bass"))
    return {message.note % 12 for message in track if message.type == "note_on"}


def test_an_edit_is_heard_within_two_seconds_and_an_error_told(tmp_path: Path) -> None:
    (tmp_path / "song.txt").write_text(song(), encoding="utf-8")
    with Watched(tmp_path, ("render", "song.txt", "--watch")) as running:
        running.line("watching song.txt; Ctrl-C ends it")
        assert pitches(tmp_path / "song.mid") >= {2, 9}  # D and A
        running.save("song.txt", song("Bb"))
        line = running.line("song.mid", most_sec=HEARD_SEC)
        assert re.fullmatch(r"\d\d:\d\d:\d\d  song\.txt changed: wrote song\.mid", line)
        assert 10 in pitches(tmp_path / "song.mid")
        kept = (tmp_path / "song.mid").read_bytes()

        running.save("song.txt", song("Gmja7"))
        running.line("song.txt:5:7: cannot read the chord 'Gmja7'", most_sec=HEARD_SEC)
        running.line("song.txt changed: not made, save it again", most_sec=HEARD_SEC)
        (tmp_path / "song.txt").unlink()
        running.line("cannot read song.txt", most_sec=HEARD_SEC)
        running.line("not made", most_sec=HEARD_SEC)
        assert (tmp_path / "song.mid").read_bytes() == kept

        running.save("new.txt", song("Eb"))
        (tmp_path / "new.txt").replace(tmp_path / "song.txt")
        running.line("song.txt changed: wrote song.mid", most_sec=HEARD_SEC)
        assert 3 in pitches(tmp_path / "song.mid")
        assert running.stop() == 130
        assert running.said[-1].startswith("stopped; ")
    assert {file.name for file in tmp_path.iterdir()} == {"song.txt", "song.mid"}


def test_only_what_changed_is_made_again_and_a_cell_concerns_all(groove: Command) -> None:
    (groove.folder / "own" / "bass").mkdir(parents=True)
    cell, mine = "own/bass/mine.toml", song().replace("feel:", "bass: mine\nfeel:")
    groove.write(cell, CELL.format(last="5"))
    for name in ("a", "b"):
        groove.write(f"{name}.txt", mine)
    made = groove.folder / "a.mid"
    stats = []

    def other_chart() -> None:
        stats.append(made.stat())
        groove.write("b.txt", mine.replace("| A |", "| Bb |"))

    def other_cell() -> None:
        stats.append(made.stat())
        groove.write(cell, CELL.format(last="9"))

    def broken_cell() -> None:
        assert 4 in pitches(made)  # the ninth of D is E
        groove.write(cell, CELL.format(last="zz"))

    begun, *rounds = watched_here(
        groove,
        ("render", "a.txt", "b.txt", "--patterns", "own", "--as", "mid", "-o", "./"),
        [other_chart, other_cell, broken_cell, lambda: groove.write(cell, CELL.format(last="5"))],
    )
    assert begun.endswith("watching a.txt, b.txt; Ctrl-C ends it\n")
    assert stats[0] == stats[1]
    told = [
        re.findall(r"^[\d:]{8}  (.* changed: \w+ [^ ,\n]+)", said, re.MULTILINE) for said in rounds
    ]
    # What was written has begun nothing by itself.
    assert told == [
        ["b.txt changed: wrote b.mid"],
        [f"{cell} changed: wrote {name}.mid" for name in "ab"],
        [f"{cell} changed: not made"],
        [f"{cell} changed: wrote {name}.mid" for name in "ab"],
    ]
    assert f"{cell}: " in rounds[2]


def test_a_notice_is_told_when_it_is_new(groove: Command) -> None:
    plain = song().replace("feel: straight eighths\n", "")
    groove.write("song.txt", plain)
    texts = (plain.replace("| A |", "| Bb |"), plain + "riff heron:\n  R - 5 - R - 5 -\n", plain)
    saves = [partial(groove.write, "song.txt", text) for text in texts]
    rounds = watched_here(groove, ("render", "song.txt"), saves)
    assert ["the usual one in 4/4" in said for said in rounds] == [True, False, False, False]
    assert ["heron" in said for said in rounds] == [False, False, True, False]
    assert all("changed: wrote song.mid" in said for said in rounds[1:])


def test_what_cannot_be_planned_in_a_later_round_is_told(groove: Command) -> None:
    groove.write("song.txt", song())
    out = groove.folder / "out"
    out.mkdir()

    def gone() -> None:
        out.rename(groove.folder / "away")
        groove.write("song.txt", song("Bb"))

    def back() -> None:
        out.mkdir()
        groove.write("song.txt", song("Ebm"))

    _, failed, made = watched_here(
        groove, ("render", "song.txt", "-o", "out/song.mid"), [gone, back]
    )
    assert "cannot write out/song.mid: there is no folder out" in failed
    assert "song.txt changed: not made" in failed
    assert "song.txt changed: wrote out/song.mid" in made


def test_a_soundfont_that_is_saved_again_sounds(groove: Command) -> None:
    groove.write("song.txt", song())
    font = groove.folder / "own.sf2"
    font.write_bytes(click_font(EVERY_PRESET))
    fonts = (b"no font", click_font(EVERY_PRESET))
    command = ("render", "song.txt", "-o", "song.wav", "--soundfont", "own.sf2")
    rounds = watched_here(groove, command, [partial(font.write_bytes, data) for data in fonts])
    assert "own.sf2 changed: not made" in rounds[1]
    assert "own.sf2 changed: wrote song.wav" in rounds[2]
    assert ["start quietly" in said for said in rounds] == [True, False, False]


@pytest.mark.parametrize("kind", ["svg", "mxl"])
def test_a_sheet_is_made_again(kind: str, groove: Command) -> None:
    # A drawing of two pages, a file of one.
    lines = 16 if kind == "svg" else 1
    long = song().replace("| D |", "| D |" + " D G A7 D | G A Bm D |" * lines)
    groove.write("song.txt", long)
    save = partial(groove.write, "song.txt", long.replace("| A |", "| Bb |"))
    words = ("sheet", "song.txt", "-o", f"song.{kind}", "--written-out")
    _, again = watched_here(groove, words, [save])
    assert f"song.txt changed: wrote song{'-2' if kind == 'svg' else ''}.{kind}" in again


def test_tab_is_printed_again(groove: Command) -> None:
    groove.write("song.txt", song())
    save = partial(groove.write, "song.txt", song("Bb"))
    begun, again = watched_here(groove, ("tab", "song.txt"), [save])
    assert "watching song.txt" in begun and "Bb" not in begun
    assert "song.txt changed" in again
    assert "Bb" in next(line for line in again.splitlines() if line.startswith("    D "))


@pytest.mark.parametrize("command", ["render", "tab", "sheet", "page"])
@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("-", "-o", "x"), "--watch cannot watch standard input\n  expected a chart's file"),
        (("song.txt", "--json"), "--watch cannot go with --json\n  "),
        (("song.txt", "sing.txt"), "cannot watch sing.txt: no such file\n  nearest: song.txt"),
    ],
)
def test_what_cannot_be_watched_is_refused(
    groove: Command, command: str, words: tuple[str, ...], told: str
) -> None:
    groove.write("song.txt", song())
    groove.write("gate.txt", song())
    said = groove(command, *words, "--watch")
    assert said.code == 2
    assert said.out == ""
    assert said.err.startswith(told)
    assert groove.files() == {"song.txt", "gate.txt"}
