"""What things are called: cells drawn by name, and old names of before that are still read."""

import mido
import pytest

from tests.cli.command import Command

CHART = "title: Two Bars\nkey: D\nverse:\n| D | A |\n"


@pytest.mark.parametrize(
    ("name", "head", "row"),
    [
        # The rows by hand: one drop has kick and side stick on the third beat of a bar counted in
        # two; a chord after every beat is the ska and reggae guitar's (common practice, no source).
        ("after the beat", "keys: after the beat", "V"),
        ("silent", "drums: silent", "silent"),
        ("pedal", "bass: pedal", "R"),
    ],
)
def test_a_cell_of_any_part_is_drawn_by_its_name(
    groove: Command, name: str, head: str, row: str
) -> None:
    drawn = groove("feels", name.upper()).out
    assert drawn.startswith(f"{head}\n") and row in drawn
    (told,) = groove("feels", name, "--json").json
    assert told["cell"] == name and told["part"] == head.partition(":")[0]
    assert f"  {name} " in groove("feels").out


def test_hyphen_and_blank_are_the_same_in_names(groove: Command) -> None:
    """As players write them: two-beat, two beat (common practice, no source)."""
    texts = []
    for feel in ("two-beat", "two beat", "Two Beat"):
        groove.write("song.txt", f"key: D\nfeel: {feel}\nverse:\n| D | A |\n")
        texts.append(groove("tab", "song.txt").out)
    assert texts[0] and len(set(texts)) == 1
    riff = "riff low-tide:\n R - 5 -\nkey: D\nverse:\nbass: Low Tide\n| D | A |\n"
    groove.write("song.txt", riff)
    assert groove("tab", "song.txt", "--tuning", "drop-D").code == 0


def test_old_names_of_strokes_are_read_and_told_once(groove: Command) -> None:
    """Keys 37 and 69 are Side Stick and Cabasa in General MIDI's percussion map."""
    block = "drums steps:\n  rim: 9 . . .\n  shaker: . 5 . 5\nverse:\ndrums: steps\n| D | D |\n"
    groove.write("song.txt", block)
    said = groove("render", "song.txt", "-o", "song.mid")
    assert said.code == 0
    for line, old, new in ((2, "rim", "side stick"), (3, "shaker", "cabasa")):
        assert said.err.count(f"line {line}: {old} is now written {new}") == 1
    struck = {m.note for m in mido.MidiFile(groove.folder / "song.mid") if m.type == "note_on"}
    assert {37, 69} <= struck
    groove.write("song.txt", block.replace("rim", "side stick").replace("shaker", "cabasa"))
    assert "is now written" not in groove("render", "song.txt", "-o", "song.mid").err


def test_a_cell_file_with_old_names_of_strokes_is_read(groove: Command) -> None:
    (groove.folder / "my" / "drums").mkdir(parents=True)
    groove.write(
        "my/drums/gravel.toml",
        'format = 1\nname = "gravel"\nsummary = "few"\nmeter = "4/4"\nslots_per_beat = 1\n'
        'rim = "9 . 9 ."\n[when.chorus]\nshaker = "9 9 9 9"\n'
        '[[fill]]\nbeats = 1\nrim = "9"\n',
    )
    drawn = groove("feels", "gravel", "--patterns", "my").out
    assert drawn.count("side_stick") == 2 and drawn.count("cabasa") == 1


@pytest.mark.parametrize(
    ("command", "old", "new"),
    [
        (("tab", "song.txt"), ("--scale", "30 in"), ("--scale-length", "30 in")),
        (("neck", "song.txt"), ("--frame", "3"), ("--span", "3")),
        (("sheet", "song.txt", "-o", "a.svg"), ("--unrolled",), ("--written-out",)),
        (("sheet", "song.txt", "-o", "a.svg"), ("--only", "tab"), ("--staves", "tab")),
    ],
)
def test_an_old_option_does_the_same_and_is_told_once(
    groove: Command, command: tuple[str, ...], old: tuple[str, ...], new: tuple[str, ...]
) -> None:
    groove.write("song.txt", CHART)
    results = []
    for words in (old, new, (f"{old[0]}={old[1]}",) if len(old) > 1 else old):
        said = groove(*command, *words)
        assert said.code == 0, said.err
        results.append((said.out, {n: (groove.folder / n).read_bytes() for n in groove.files()}))
        told = f"{old[0]} is now called {new[0]}\n"
        assert said.err.count(told) == (words[0] != new[0])
    assert results[0] == results[1] == results[2]


def test_only_means_parts_alone_where_there_are_parts(groove: Command) -> None:
    groove.write("song.txt", CHART)
    said = groove("render", "song.txt", "-o", "song.mid", "--only", "drums")
    assert said.code == 0 and "now called" not in said.err


def test_the_old_setting_of_the_configuration_is_read(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    groove.write("song.txt", CHART)
    file = groove.folder / "config" / "groove" / "config.toml"
    file.parent.mkdir(parents=True)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(groove.folder / "config"))
    told = []
    for name in ("scale", "scale_length"):
        file.write_text(f'format = 1\n{name} = "30 in"\n', encoding="utf-8")
        told.append(groove("neck", "song.txt"))
    assert told[0] == told[1] and told[0].code == 0


NUMBERS = (
    "key: D\nchords: numbers\nverse:\n| 1 | <57 | 2-7 6- | 4/5 |\n| 1maj7 | 57/7 | 111 | b7 |\n"
)
# A seventh is raised beside its degree, as charts of numbers are written by hand (common
# practice, no source); a bass after the slash and qualities in words stand on the line.
RAISED = ("1", "<5⁷", "2-⁷ 6-", "4/5", "1maj7", "5⁷/7", "1¹¹", "b7")
PLAIN = ("1", "<5(7)", "2-(7) 6-", "4/5", "1maj7", "5(7)/7", "1(11)", "b7")


def rows_of(text: str) -> list[str]:
    """The lines of a text that have bars."""
    return [line for line in text.splitlines() if "|" in line]


def test_sevenths_of_numbers_are_raised_where_they_are_read(groove: Command) -> None:
    groove.write("song.txt", NUMBERS)
    rows = rows_of(groove("show", "song.txt").out)
    bars = [bar.strip() for row in rows for bar in row.split("|")[1:-1]]
    assert bars == list(RAISED)
    assert groove("sheet", "song.txt", "--chart", "-o", "a.svg").code == 0
    drawn = (groove.folder / "a.svg").read_text(encoding="utf-8")
    for name in ("‹5⁷", "2-⁷", "4/5", "1maj7", "5⁷/7", "1¹¹", "♭7"):
        assert f">{name}<" in drawn
    groove.write("letters.txt", "key: D\nverse:\n| A7 | A/E |\n")
    assert "5⁷" in groove("show", "letters.txt", "--numbers").out


@pytest.mark.parametrize("names", [RAISED, PLAIN])
def test_numbers_may_be_typed_as_they_are_read(groove: Command, names: tuple[str, ...]) -> None:
    notes = []
    for text in (NUMBERS, f"key: D\nchords: numbers\nverse:\n| {' | '.join(names)} |\n"):
        groove.write("song.txt", text)
        notes.append(
            [note["pitch"] for note in groove("tab", "song.txt", "--json").json[0]["notes"]]
        )
    assert len(notes[0]) > 30 and notes[0] == notes[1]


def test_a_chart_to_edit_has_the_numbers_as_they_are_typed(groove: Command) -> None:
    groove.write("song.txt", NUMBERS)
    assert "| 1 | <57 | 2-7 6- | 4/5 |" in groove("show", "song.txt", "--chart").out
