"""``--watch`` of every command that has it, in a process of its own: edit, save, hear.

Two seconds are the project's promise; 130 is a shell's code for Ctrl-C (IEEE Std 1003.1, Shell
Command Language, 2.8.2).
"""

import re
from pathlib import Path

import mido
import pytest

from tests.cli.command import Command
from tests.cli.watched import HEARD_SEC, Watched
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


def test_only_what_changed_is_made_again_and_a_cell_concerns_all(tmp_path: Path) -> None:
    own = tmp_path / "own" / "bass"
    own.mkdir(parents=True)
    (own / "mine.toml").write_text(CELL.format(last="5"), encoding="utf-8")
    for name in ("a", "b"):
        text = song().replace("feel:", "bass: mine\nfeel:")
        (tmp_path / f"{name}.txt").write_text(text, encoding="utf-8")
    command = "render a.txt b.txt --patterns own --as mid -o ./ --watch"
    with Watched(tmp_path, command.split()) as running:
        running.line("watching a.txt, b.txt")
        before = (tmp_path / "a.mid").stat()
        running.save("b.txt", song("Bb").replace("feel:", "bass: mine\nfeel:"))
        running.line("b.txt changed: wrote b.mid", most_sec=HEARD_SEC)
        assert (tmp_path / "a.mid").stat() == before
        running.save("own/bass/mine.toml", CELL.format(last="9"))
        running.line("own/bass/mine.toml changed: wrote a.mid", most_sec=HEARD_SEC)
        running.line("own/bass/mine.toml changed: wrote b.mid", most_sec=HEARD_SEC)
        assert 4 in pitches(tmp_path / "a.mid")  # the ninth of D is E
        running.save("own/bass/mine.toml", CELL.format(last="zz"))
        running.line("own/bass/mine.toml: ", most_sec=HEARD_SEC)
        running.line("not made", most_sec=HEARD_SEC)
        running.save("own/bass/mine.toml", CELL.format(last="5"))
        running.line("wrote a.mid", most_sec=HEARD_SEC)
        # Each line of a chart made again: what was written has begun nothing by itself.
        running.line("wrote b.mid", most_sec=HEARD_SEC)
        assert running.stop() == 130
    assert len([line for line in running.said if "changed" in line]) == 6


def test_a_notice_is_told_when_it_is_new(tmp_path: Path) -> None:
    plain = song().replace("feel: straight eighths\n", "")
    (tmp_path / "song.txt").write_text(plain, encoding="utf-8")
    with Watched(tmp_path, ("render", "song.txt", "--watch")) as running:
        running.line("watching song.txt")
        for text in (plain.replace("A", "Bb"), plain + "riff heron:\n  R - 5 - R - 5 -\n", plain):
            running.save("song.txt", text)
            running.line("changed: wrote song.mid", most_sec=HEARD_SEC)
        running.stop()
    assert sum("the usual one in 4/4" in line for line in running.said) == 1
    assert sum("heron" in line for line in running.said) == 1


def test_what_cannot_be_planned_in_a_later_round_is_told(tmp_path: Path) -> None:
    (tmp_path / "song.txt").write_text(song(), encoding="utf-8")
    (tmp_path / "out").mkdir()
    with Watched(tmp_path, ("render", "song.txt", "-o", "out/song.mid", "--watch")) as running:
        running.line("watching song.txt")
        (tmp_path / "out").rename(tmp_path / "away")
        running.save("song.txt", song("Bb"))
        running.line("cannot write out/song.mid: there is no folder out", most_sec=HEARD_SEC)
        running.line("song.txt changed: not made", most_sec=HEARD_SEC)
        (tmp_path / "out").mkdir()
        running.save("song.txt", song("Eb"))
        running.line("song.txt changed: wrote out/song.mid", most_sec=HEARD_SEC)


def test_a_soundfont_that_is_saved_again_sounds(tmp_path: Path) -> None:
    (tmp_path / "song.txt").write_text(song(), encoding="utf-8")
    (tmp_path / "own.sf2").write_bytes(click_font(EVERY_PRESET))
    command = ("render", "song.txt", "-o", "song.wav", "--soundfont", "own.sf2", "--watch")
    with Watched(tmp_path, command) as running:
        running.line("watching song.txt")
        (tmp_path / "own.sf2").write_bytes(b"no font")
        running.line("own.sf2 changed: not made")
        (tmp_path / "own.sf2").write_bytes(click_font(EVERY_PRESET))
        running.line("own.sf2 changed: wrote song.wav")
        running.stop()
    assert sum("start quietly" in line for line in running.said) == 1


@pytest.mark.parametrize("kind", ["svg", "mxl"])
def test_a_sheet_is_made_again(kind: str, tmp_path: Path) -> None:
    # A drawing of two pages, a file of one.
    lines = 24 if kind == "svg" else 1
    long = song().replace("| D |", "| D |" + " D G A7 D | G A Bm D |" * lines)
    (tmp_path / "song.txt").write_text(long, encoding="utf-8")
    with Watched(tmp_path, ("sheet", "song.txt", "-o", f"song.{kind}", "--watch")) as running:
        running.line("watching song.txt")
        for chord in ("Bb", "Eb"):
            running.save("song.txt", long.replace("| A |", f"| {chord} |"))
            running.line(f"song.txt changed: wrote song{'-2' if kind == 'svg' else ''}.{kind}")


def test_tab_is_printed_again(tmp_path: Path) -> None:
    (tmp_path / "song.txt").write_text(song(), encoding="utf-8")
    with Watched(tmp_path, ("tab", "song.txt", "--watch")) as running:
        running.line("watching song.txt")
        running.save("song.txt", song("Bb"))
        running.line("song.txt changed", most_sec=HEARD_SEC)
        assert "Bb" in running.line("    D ", most_sec=HEARD_SEC)
        assert running.stop() == 130


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
