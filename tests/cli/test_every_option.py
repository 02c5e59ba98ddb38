"""Every option of every command with values that it cannot have: one error, or one notice.

The options are those of the command line's own tree, so that a new one without a row fails here.
What each takes is common practice or, where a standard says it, named beside the row.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import mido
import pytest
import typer

from groove.cli.main import EXAMPLES, make_app
from tests.cli.command import Command, Said

CHART = "title: Two Bars\nkey: D\nverse:\n| D | A |\n"
LONG = "x" * 5_000
HUGE = "99999999999999999999"


@dataclass(frozen=True)
class Row:
    """Values that an option cannot have: too small, too large, no number; what is expected."""

    small: str
    large: str
    word: str
    expected: str


FRETS_FROM_0 = Row("-1", "25", "low", "a whole number from 0 to 24")
A_NAME = Row(",", LONG, "nan", "")
"""Names are looked up: what is expected is a list of them, told by the error itself."""

ROWS = {
    "--output": Row("song", "no-such-folder/song.pdf", "song.xyz", ""),
    "--as": Row(",", "mid,wav,xyz", "5", ""),
    "--without": Row(",", "bass,drums,keys", "5", ""),
    "--only": Row(",", "bass,drums,tuba", "5", ""),
    "--tempo": Row("0", "1000", "nan", "beats a minute, e.g. 96, or a percentage, e.g. 70%"),
    "--feel": A_NAME,
    "--vary": Row("0", LONG, "lots", "none, some, much"),
    "--transpose": Row("-25", HUGE, "nan", "a whole number from -24 to 24"),
    "--key": Row("H", "F####", "5", "a key, e.g. D, F# minor, Bb or D dorian"),
    "--sections": Row(",", "verse,,verse", "nan", ""),
    "--bars": Row("0", "3-1000", "-1", ""),
    "--times": Row("0", "201", "inf", "a whole number from 1 to 200"),
    "--seed": Row("-1", "2147483648", "1.5", "a whole number from 0 to 2147483647"),
    "--tuning": Row("E1", "E1 A1 D2 G2 C3 F3 A3 C4 E4", "nan", "open strings"),
    "--soundfont": Row("no.sf2", "/", LONG, ".sf2"),
    "--loudness": Row("-41", "inf", "nan", "a number from -40 to -6"),
    "--ceiling": Row("-inf", "0.1", "nan", "a number from -20 to 0"),
    "--bits": Row("8", "32", "int", "16, 24, float"),
    "--rate": Row("22050", "96000", "nan", "44100, 48000"),
    "--record": Row("no.mp3", LONG, "/", ""),
    "--patterns": Row("no-such-folder", LONG, "song.txt", ""),
    "--line": Row("no.mid", "no-such-folder/bass.mid:2", "Bass", "a MIDI file"),
    "--jobs": Row("0", "65", "two", "a whole number from 1 to 64"),
    "--cluster": Row("0", "host:99999", "nan", "the address that dask scheduler prints"),
    "--position": Row("-1", "20", "low", "a whole number from 0 to 19"),
    "--width": Row("39", "1001", "wide", "a whole number from 40 to 1000"),
    "--open": Row("0", LONG, "maybe", "yes, no, free"),
    "--start": FRETS_FROM_0,
    "--max-fret": Row("0", "25", "high", "a whole number from 1 to 24"),
    "--span": Row("2", "5", "four", "3 or 4"),
    # Frets of the neck: 20 to 24, as the makers of the instruments in shared/tables/tunings.toml.
    "--frets": Row("0", "25", "many", "a whole number from 20 to 24"),
    "--scale-length": Row("599 mm", "1001 mm", "nan", "between 600 and 1000 mm"),
    "--compare": Row("5,5", "99,100", "x,y", "two frets, as 2,7"),
    "--part": Row("0", LONG, "tuba", "bass, drums, keys"),
    "--for": Row("capo 0", LONG, "tuba", "Bb, Eb or capo 1"),
    "--size": Row("0", LONG, "a0", "a4"),
    "--latency": Row("-1", "1001", "late", "a number from 0 to 1000"),
    "--as-rendered": Row("no.mid", "song.txt", "no-such-folder/", ""),
    "--history": Row("no-such-folder/takes.json", "song.txt", "/", ""),
    "--from": Row("-1", "3601", "start", "a number from 0 to 3600"),
    "--taps": Row("song.txt", LONG, "no-such-folder/", ""),
    "--like": Row("no.wav", LONG, "no-such-folder/", ""),
    "--first": Row("-1", "36001", "start", "a number from 0 to 36000"),
    "--minutes": Row("0", "241", "many", "a whole number from 1 to 240"),
    "--to": Row("0", "1000", "nan", "beats a minute, e.g. 96, or a percentage, e.g. 70%"),
    "--step": Row("0", "1000", "nan", "beats a minute, e.g. 96, or a percentage, e.g. 70%"),
    "--click": Row("0", LONG, "quavers", "beats, eighths, triplets, sixteenths"),
    "--bass": Row("0", LONG, "never", "first, always"),
    "--drop-out": Row("0/4", "9999/9999", "nan", "e.g. 2/4"),
    "CHART": Row("no.txt", LONG, "no-such-folder/", ""),
    "SET": Row("no.txt", LONG, "no-such-folder/", ""),
    "REFERENCE": Row("no.txt", LONG, "no-such-folder/", ""),
    "FILE": Row("no.mid", LONG, "song.txt", ""),
    "OTHER": Row("no.mid", LONG, "song.txt", ""),
}
OWN_ROWS = {
    ("sheet", "--as"): Row("0", LONG, "xyz", "pdf"),
    ("sheet", "--staves"): Row("0", LONG, "staff", "both, notation, tab"),
    ("page", "--output"): Row("song", "no-such-folder/song.html", "song.xyz", ""),
    ("tab", "--output"): Row("song", "no-such-folder/song.txt", "song.xyz", ""),
    ("neck", "--output"): Row("song", "no-such-folder/song.svg", "song.xyz", ""),
    ("card", "--output"): Row("song", "no-such-folder/song.pdf", "song.xyz", ""),
    ("gig", "--output"): Row("song.txt", "song.pdf", "song.xyz", "a folder, e.g. -o friday/"),
    ("gig", "--as"): Row("0", LONG, "xyz", "mid, sheet, card, page, wav"),
    ("drill", "--output"): Row("song", "no-such-folder/song.mid", "song.xyz", ""),
    ("drill", "--from"): Row("0", "1000", "nan", "beats a minute, e.g. 96, or a percentage"),
    ("align", "--output"): Row("song", "no-such-folder/song.mid", "song.xyz", ""),
    ("take", "--output"): Row("song", "no-such-folder/song.html", "song.xyz", ""),
    ("render", "--output"): Row("song", "no-such-folder/song.mid", "song.xyz", ""),
    ("feels", "CHART"): A_NAME,
    ("study", "--output"): Row("song", "no-such-folder/song.html", "song.xyz", ""),
    ("study", "--part"): Row("0", LONG, "tuba", "expected one of: 1"),
    ("study", "--chart"): Row("no.txt", LONG, "/", ""),
    ("study", "--cells"): Row("song.txt", LONG, "/dev/null/cells", "a folder"),
}
"""Where one command takes other values than the rest."""
OPERANDS = ("CHART", "SET", "REFERENCE", "FILE", "OTHER")
ASKED_WITH = {("render", "--soundfont"): ("-o", "song.wav")}
"""What an option is given together with, for it to be looked at."""
LEFT = {("render", "--soundfont"): {"song.mid"}}
"""What stands all the same: the MIDI of a song that cannot be made to sound."""


def operand(command: str, name: str) -> str:
    """Return what the help calls an operand of a command."""
    return (
        name.upper()
        if command in ("align", "take", "study")
        else "SET"
        if command == "gig"
        else "CHART"
    )


def tree() -> Iterator[tuple[str, str, bool]]:
    """Yield every command with each of its options, and whether that is a plain switch."""
    group: Any = typer.main.get_command(make_app(EXAMPLES))
    for name, command in group.commands.items():
        for parameter in command.params:
            is_option = parameter.param_type_name == "option"
            option = max(parameter.opts, key=len) if is_option else operand(name, parameter.name)
            yield name, option, is_option and parameter.is_flag


OPTIONS = list(tree())
VALUED = [(command, option) for command, option, is_switch in OPTIONS if not is_switch]
COMMANDS_WITH = {
    option: [command for command, one in VALUED if one == option] for _, option in VALUED
}
SWITCHES = [(command, option) for command, option, is_switch in OPTIONS if is_switch]


def write_part(groove: Command) -> str:
    """Write a bar of bass by mido, and return the file's name."""
    song = mido.MidiFile(tracks=[mido.MidiTrack([mido.Message("note_on", note=38)])])
    song.tracks[0].append(mido.Message("note_off", note=38, time=1920))
    song.save(groove.folder / "part.mid")
    return "part.mid"


def kept(command: str, option: str) -> set[str]:
    """Return the files that stand before and after a call."""
    made = {"part.mid"} if command == "study" and option != "FILE" else set()
    return {"song.txt"} | made | LEFT.get((command, option), set())


def call(groove: Command, command: str, option: str, value: str) -> Said:
    """Run a command on a chart of two bars with one value of one option."""
    words = [f"{option}={value}"] if option.startswith("-") else [value]
    if command == "study":
        return groove(command, *([] if option == "FILE" else [write_part(groove)]), *words)
    chart = [] if command in ("feels", "setup") or option in OPERANDS else ["song.txt"]
    after = ["take.mid"] if command in ("align", "take") and option != "FILE" else []
    before = ["song.txt"] if option == "FILE" else []
    return groove(command, *before, *chart, *words, *after, *ASKED_WITH.get((command, option), ()))


def check_refused(said: Said, value: str) -> None:
    """Check for one error: a line that names what was found, and what was expected; no more."""
    assert said.code == 2
    assert said.out == ""
    assert "Traceback" not in said.err
    # The caution after a page or a sound may stand under it.
    told = said.err.split("\nstart quietly")[0].rstrip().split("\n")
    # A value, or of a list the one name in it that does not do.
    assert any(part[:8].strip() in told[0] for part in (value, repr(value), value.split(",")[-1]))
    # A long list goes on in lines of its own, further in.
    hints = [line for line in told[1:] if not line.startswith("    ")]
    assert len(hints) == 1 or (len(told) == 1 and "expected" in told[0])
    assert all(line.startswith("  ") for line in told[1:])
    assert len(said.err) < 12_000


def test_every_option_has_a_row() -> None:
    # Counted by hand in the help of each command.
    assert len(OPTIONS) == len(set(OPTIONS)) >= 130
    missing = [(c, o) for c, o in VALUED if o not in ROWS and (c, o) not in OWN_ROWS]
    assert missing == []
    commands = {command for command, _, _ in OPTIONS}
    assert {command for command, _ in OWN_ROWS} <= commands
    assert set(ROWS) <= {option for _, option in VALUED}


def asked_values(command: str, option: str, row: Row) -> tuple[Sequence[str], Sequence[str]]:
    """Return the values and the blanks that a command is asked with.

    The first with an option, or with a row of its own, is asked with all of them, the next ones in
    turn with one: they read it by the same field of the same group, and each may only forget it.
    """
    values, blanks = (row.small, row.large, row.word), ("", " ")
    turn = COMMANDS_WITH[option].index(command)
    if turn == 0 or (command, option) in OWN_ROWS:
        return values, blanks
    return [values[turn % 3]], [blanks[turn % 2]]


def check_option(groove: Command, command: str, option: str) -> None:
    """Check what a command says to the values that one of its options cannot have."""
    for name in groove.files():
        (groove.folder / name).unlink()
    groove.write("song.txt", CHART)
    row = OWN_ROWS.get((command, option)) or ROWS[option]
    values, blanks = asked_values(command, option, row)
    assert (len(values), len(blanks)) in ((3, 2), (1, 1))
    for value in values:
        said = call(groove, command, option, value)
        check_refused(said, value)
        assert row.expected in said.err
        assert groove.files() == kept(command, option)
    for empty in blanks:
        said = call(groove, command, option, empty)
        check_refused(said, empty)
        assert said.err == (
            f"{option if option not in OPERANDS else 'an argument'} cannot be {empty!r}\n"
            "  expected something in it\n"
        )


@pytest.mark.parametrize("command", dict(VALUED))
def test_values_that_an_option_cannot_have(groove: Command, command: str) -> None:
    """All options of a command, each in a folder with nothing but the chart."""
    asked = [option for one, option in VALUED if one == command]
    assert asked
    faults = []
    for option in asked:
        try:
            check_option(groove, command, option)
        except AssertionError as fault:
            faults.append(f"{option}: {fault}")
    assert faults == []


@pytest.mark.parametrize(("command", "option"), SWITCHES)
def test_a_switch_takes_no_value(groove: Command, command: str, option: str) -> None:
    groove.write("song.txt", CHART)
    said = call(groove, command, option, "5")
    check_refused(said, option)
    assert groove.files() == kept(command, option)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--span", "5"), "--span cannot be 5\n  expected 3 or 4\n"),
        (("--start", "9", "--max-fret", "5"), "--start cannot be 9\n  expected 0 to 5\n"),
        (("--max-fret", "22", "--frets", "20"), "--max-fret cannot be 22\n  expected 1 to 20\n"),
        (("--seed", ""), "--seed cannot be ''\n  expected something in it\n"),
        (("--transpose", "inf"), "--transpose cannot be 'inf'\n  expected a whole number from -24"),
    ],
)
def test_the_words_of_an_error(groove: Command, words: tuple[str, ...], told: str) -> None:
    groove.write("song.txt", CHART)
    assert groove("tab", "song.txt", *words).err.startswith(told)


@pytest.mark.parametrize("command", ["render", "tab", "sheet"])
def test_bars_beyond_the_song_are_left_out_and_said(groove: Command, command: str) -> None:
    groove.write("song.txt", CHART)
    said = groove(command, "song.txt", "--bars", "1-1000")
    assert said.code == 0
    notice = "bars 3 to 1000 are left out: the song's last is 2"
    assert (said.out + said.err).count(notice) == 1
    assert "left out" not in groove(command, "song.txt", "--bars", "1-2").err


@pytest.mark.parametrize("command", ["show", "render", "tab", "card", "page", "neck", "sheet"])
def test_a_tuning_in_the_chart_that_there_is_not(groove: Command, command: str) -> None:
    groove.write("song.txt", "tuning: rubber\nverse:\n| D |\n")
    said = groove(command, "song.txt")
    assert said.code == 2
    assert said.err.startswith("song.txt:1:9: no such tuning: 'rubber'\n")
    assert groove.files() == {"song.txt"}


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\xff", "config.toml: cannot be read"),
        (b"format = ", "config.toml: "),
        (b"format = 9\n", "config.toml: format: found 9, expected 1"),
        (b"format = 1\nfrets = 0\n", "config.toml: frets cannot be 0\n  expected 20 to 24"),
        (b"format = 1\nfrets = true\n", "config.toml: frets cannot be True"),
        (b'format = 1\ntuning = "rubber"\n', "config.toml: tuning: no such tuning: 'rubber'"),
        (b'format = 1\nscale = "nan"\n', "config.toml: scale_length: no such scale length: 'nan'"),
        (b'format = 1\nsoundfont = " "\n', "config.toml: soundfont: expected something"),
        (None, "config.toml: cannot be read"),
    ],
)
def test_a_configuration_that_cannot_be_read_is_named(
    groove: Command, monkeypatch: pytest.MonkeyPatch, content: bytes | None, told: str
) -> None:
    groove.write("song.txt", CHART)
    file = groove.folder / "config" / "groove" / "config.toml"
    file.parent.mkdir(parents=True)
    if content is None:
        file.mkdir()
    else:
        file.write_bytes(content)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(groove.folder / "config"))
    for command in ("render", "tab", "page"):
        said = groove(command, "song.txt")
        assert said.code == 2
        assert told in said.err
        assert str(file.parent) in said.err
