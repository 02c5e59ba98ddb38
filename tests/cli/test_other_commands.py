"""``groove show``, ``setup``, and how the command starts."""

import json
import shutil
import subprocess
import sys
from importlib.metadata import PackageNotFoundError
from pathlib import Path

import mido
import pytest

from groove.chart.parse import parse_chart
from groove.cli.setup import version_text
from groove.io.soundfont import choose_soundfont
from tests.cli.command import Command

SONG = "title: Small Song\ntempo: 84\nkey: D\n\nverse:\n| D | A/C# | <G | N.C. |\nform: verse x2\n"


def test_show_prints_bars_under_section_names_with_the_form(groove: Command) -> None:
    groove.write("song.txt", SONG)
    said = groove("show", "song.txt")
    assert said.code == 0
    lines = [" ".join(line.split()) for line in said.out.splitlines()]
    assert lines[0] == "Small Song"
    assert "verse" in lines
    assert "1 | D | A/C# | <G | N.C. |" in lines
    assert "form: verse x2" in lines
    # Eight bars of four quarters at 84 are 22.86 s.
    assert "8 bars, 0:23" in lines


def test_show_prints_the_form_as_it_is_played(groove: Command) -> None:
    """The jump is taken and the tag told; played by hand: 2 + 2 + 1 + 3 x 2 bars."""
    groove.write(
        "song.txt",
        "verse:\n| (segno) D | (to coda) A |\nchorus:\n| G | (D.S. al coda) A |\n"
        "coda:\n| (coda) G | (tag x3) A | D |\n",
    )
    form = "verse, chorus, verse, coda (last 2 bars 3 times)"
    lines = groove("show", "song.txt").out.splitlines()
    assert lines[-2] == f"form: {form}"
    assert lines[-1].startswith("13 bars")  # 2 + 2 + 2 + 1 + 3 times 2
    card = groove("card", "song.txt").out
    assert f"Form    {form}" in card
    assert "coda 3 bars" in card  # as written, not the seven that are played


def test_the_bars_of_all_sections_stand_in_the_same_columns(groove: Command) -> None:
    groove.write("song.txt", "a:\n| Dm7 / / G7 | C | F |\nb:\n| C | Dm7 / / G7 | C |\n| C | C |\n")
    rows = [line for line in groove("show", "song.txt").out.splitlines() if "|" in line]
    places = [[at for at, sign in enumerate(row) if sign == "|"] for row in rows]
    assert [len(row) for row in places] == [4, 5, 2]
    assert all(row == places[1][: len(row)] for row in places)


def test_one_root_is_told_as_one(groove: Command) -> None:
    groove.write("song.txt", "a:\n| D | D |\n")
    told = groove("show", "song.txt", "--harmony").out
    assert "roots stay on D" in told


def test_a_checkout_that_is_not_installed_says_so(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python's ``importlib.metadata`` raises PackageNotFoundError where there is no install."""

    def missing(name: str) -> str:
        raise PackageNotFoundError(name)

    monkeypatch.setattr("importlib.metadata.version", missing)
    assert "pip install --editable" in version_text()
    assert "pip install --editable" in groove("setup").out


def test_a_soundfont_that_is_not_there_is_refused_beside_midi_too(groove: Command) -> None:
    groove.write("song.txt", SONG)
    said = groove("render", "song.txt", "-o", "x.mid", "--soundfont", "nof.sf2")
    assert said.code == 2
    assert "nof.sf2" in said.err and "does not exist" in said.err
    assert groove.files() == {"song.txt"}


def test_show_as_json(groove: Command) -> None:
    groove.write("song.txt", SONG)
    groove.write("other.txt", SONG.replace("key: D", "").replace("84", "60\nmeter: 6/8"))
    first, second = groove("show", "song.txt", "other.txt", "--json").json
    assert (first["title"], first["tempo_bpm"], first["tempo_qpm"]) == ("Small Song", 84, 84)
    assert first["key_given"] == "D major"
    assert second["key_given"] is None
    # A dotted quarter at 60 is a quarter at 90.
    assert (second["tempo_bpm"], second["tempo_qpm"], second["meter"]) == (60, 90, "6/8")
    assert [bar["chords"][0]["symbol"] for bar in first["bars"]] == ["D", "A/C#", "G", "N.C."]
    assert first["bars"][2]["chords"][0]["push_quarters"] == 0.5
    assert (first["bars"][1]["line"], first["bars"][1]["column"]) == (6, 7)
    assert len(first["played_bars"]) == 8


def test_show_moves_and_writes_a_chart(groove: Command) -> None:
    groove.write("song.txt", SONG)
    moved = groove("show", "song.txt", "--chart", "--key", "F")
    song = parse_chart(moved.out)
    assert [bar.chords[0].symbol for bar in song.sections[0].bars] == ["F", "C/E", "Bb", "N.C."]
    again = groove("show", "song.txt", "--chart")
    assert parse_chart(again.out) == parse_chart(SONG)


def test_show_tells_of_a_bad_chart_with_its_place(groove: Command) -> None:
    groove.write("song.txt", SONG.replace("A/C#", "A/H"))
    said = groove("show", "song.txt", "--json")
    assert said.code == 2
    assert "song.txt:6:7" in said.err
    (row,) = said.json
    assert (row["error"]["line"], row["error"]["column"]) == (6, 7)


@pytest.mark.parametrize(
    "data", [b"", b"\xff\xfe\x00", b"verse:\n| \xc3\x28 |\n", b"\x00" * 100, b"x" * 2_000_000]
)
def test_any_bytes_as_a_chart(groove: Command, data: bytes) -> None:
    (groove.folder / "song.txt").write_bytes(data)
    said = groove("show", "song.txt")
    assert said.code == 2
    assert "song.txt" in said.err
    assert "Traceback" not in said.err


def test_setup_says_what_there_is(groove: Command) -> None:
    said = groove("setup")
    assert said.code == 0
    assert "FluidSynth" in said.out
    assert "the default" in said.out
    (facts,) = groove("setup", "--json").json
    assert facts["missing"] == []


def test_setup_names_a_fuller_font_and_the_two_lines_to_it(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The package and its file are those of soundfonts_readme.md, and of Debian's list of files."""
    tools = {"apt-get"}
    monkeypatch.setattr(shutil, "which", lambda tool: tool if tool in tools else None)
    lines = groove("setup").out.splitlines()
    at = next(index for index, line in enumerate(lines) if line.startswith("better sound"))
    assert lines[at + 1 : at + 3] == [
        "  apt-get install fluid-soundfont-gm",
        "  export GROOVE_SOUNDFONT=/usr/share/sounds/sf2/FluidR3_GM.sf2",
    ]
    guide = (Path(__file__).parents[2] / "soundfonts_readme.md").read_text(encoding="utf-8")
    assert lines[at + 1].strip() in guide
    assert lines[at + 2].rpartition("=")[2] in guide
    tools.clear()
    assert "soundfonts_readme.md" in groove("setup").out
    monkeypatch.setenv("GROOVE_SOUNDFONT", str(choose_soundfont(None, {}, None).path))
    assert "better sound" not in groove("setup").out


def test_setup_tells_of_a_bad_config_and_a_bad_font(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GROOVE_SOUNDFONT", "nowhere.sf2")
    said = groove("setup")
    assert said.code == 1
    assert "nowhere.sf2" in said.out
    folder = Path(str(groove.folder)) / "no-config" / "groove"
    folder.mkdir(parents=True)
    (folder / "config.toml").write_text('format = 1\nsoundfnt = "x"\n', encoding="utf-8")
    said = groove("setup")
    assert "nearest: soundfont" in said.out


def test_help_has_an_example_for_every_command(groove: Command) -> None:
    for command in ("render", "show", "tab", "neck", "feels", "setup"):
        said = groove(command, "--help")
        assert said.code == 0
        assert f"groove {command}" in said.out
        assert "Example" in said.out


def python(code: str) -> str:
    """Run code in a fresh interpreter and return what it printed."""
    return subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True
    ).stdout


def test_starting_the_command_loads_nothing_heavy() -> None:
    heavy = ("numpy", "scipy", "soundfile", "fluidsynth", "pretty_midi", "mido", "rich.progress")
    code = (
        "import sys, json, groove.cli.main; "
        f"print(json.dumps([n for n in {heavy!r} if n in sys.modules]))"
    )
    assert json.loads(python(code)) == []


def test_the_python_interface(shared_dir: Path) -> None:
    # The public names of the package, and the same way that the command line goes.
    code = (
        "import groove; from pathlib import Path; "
        f"text = Path({str(shared_dir / 'charts' / 'lantern-row.txt')!r}).read_text(); "
        "performance = groove.perform_chart(text, groove.load_library()); "
        "data = groove.midi_bytes(performance); "
        "print(data[:4].decode(), len(performance.bars))"
    )
    assert python(code) == "MThd 104\n"


def test_tab_writes_the_asked_bars_in_eighty_columns(groove: Command) -> None:
    groove.write("song.txt", SONG)
    said = groove("tab", "song.txt", "--bars", "1-2", "--fingers", "--pluck")
    assert said.code == 0
    lines = said.out.splitlines()
    strings = [line[0] for line in lines if line[1:2] == " " and "|" in line]
    assert strings[:4] == ["G", "D", "A", "E"]
    assert max(len(line) for line in lines) <= 80
    assert any(line.startswith("fi") for line in lines)


def test_tab_follows_tuning_and_config(groove: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    groove.write("song.txt", SONG)
    five = groove("tab", "song.txt", "--tuning", "five").out
    assert "B |" in five
    folder = groove.folder / "config" / "groove"
    folder.mkdir(parents=True)
    (folder / "config.toml").write_text('format = 1\ntuning = "five"\n', encoding="utf-8")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(groove.folder / "config"))
    assert groove("tab", "song.txt").out == five
    assert "B |" not in groove("tab", "song.txt", "--tuning", "four").out


@pytest.mark.parametrize("verb", ["tab", "neck"])
def test_what_was_decided_is_said_as_after_a_render(groove: Command, verb: str) -> None:
    groove.write("song.txt", SONG.replace("tempo: 84", "tempo: 84\nmeter: 3/4"))
    said = groove(verb, "song.txt", "--feel", "sixteenths")
    rendered = groove("render", "song.txt", "--feel", "sixteenths", "-o", "song.mid").err
    notices = [line.strip() for line in rendered.splitlines() if line.strip() in said.err]
    assert [notice for notice in notices if "3/4" in notice]
    assert said.err.splitlines() == notices
    assert not any(notice in said.out for notice in notices)
    (data,) = groove(verb, "song.txt", "--feel", "sixteenths", "--json").json
    assert data["notices"] == notices


def test_the_outputs_agree_whichever_bass_was_told(groove: Command) -> None:
    groove.write("song.txt", SONG)
    (plain,) = groove("neck", "song.txt", "--json").json
    (five,) = groove("neck", "song.txt", "--tuning", "five", "--json").json
    assert [n["pitch"] for n in five["notes"]] == [n["pitch"] for n in plain["notes"]]
    # String 4 of a five-string is its E string, as of a four-string.
    assert [(n["string"], n["fret"]) for n in five["notes"]][:4] == [
        (n["string"], n["fret"]) for n in plain["notes"]
    ][:4]
    for name, arguments in (("plain.mid", ()), ("five.mid", ("--tuning", "five"))):
        assert groove("render", "song.txt", "-o", name, "--tight", *arguments).code == 0
    # But for the text that says how each was rendered.
    data = [
        [
            [message for message in track if message.type != "text"]
            for track in mido.MidiFile(groove.folder / name).tracks
        ]
        for name in ("plain.mid", "five.mid")
    ]
    assert data[0] == data[1]
    assert sum(map(len, data[0])) > 50
    # The chart itself may ask for the low string, and then all of them have it: B0 is 23.
    groove.write(
        "low.txt", SONG.replace("| D |", "| B |").replace("key: D", "key: D\ntuning: five")
    )
    (low,) = groove("neck", "low.txt", "--json").json
    assert low["notes"][0]["pitch"] == 23


def test_neck_as_text_json_drawing_and_two_ways(groove: Command) -> None:
    groove.write("song.txt", SONG)
    assert "Shifts" in groove("neck", "song.txt").out
    (data,) = groove("neck", "song.txt", "--json").json
    note = data["notes"][0]
    # D2 = 38 lies on string 2 open, string 3 fret 5, string 4 fret 10 (strings at E1 A1 D2 G2).
    assert note["pitch"] == 38
    assert (note["string"], note["fret"]) in {(2, 0), (3, 5), (4, 10)}
    assert {"bar", "beat", "touch", "finger", "pluck", "position_fret", "origin"} <= set(note)
    assert {"shifts", "travel_mm", "rakes"} <= set(data)
    assert groove("neck", "song.txt", "-o", "neck.svg").code == 0
    assert (groove.folder / "neck.svg").read_text(encoding="utf-8").startswith("<svg")
    compared = groove("neck", "song.txt", "--compare", "5,10")
    assert compared.code == 0
    assert "makes easier" in compared.out


@pytest.mark.parametrize(("key", "positions"), [("Eb", "5,10"), ("Eb", "2,11"), ("D", "5,2")])
def test_two_positions_are_compared_whatever_the_first_note_is(
    groove: Command, key: str, positions: str
) -> None:
    """E♭2 lies on frets 1, 6 and 11 of a four-string, D2 on 0, 5 and 10."""
    groove.write("song.txt", f"key: {key}\nverse:\n| {key} | {key} | {key} | {key} |\n")
    said = groove("neck", "song.txt", "--compare", positions)
    assert said.code == 0
    for position in positions.split(","):
        assert f"position {position} makes easier:" in said.out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--compare", "2"), "expected two frets"),
        (("--start", "2"), "the first root D2 is not on fret 2"),
        (("--open", "maybe"), "yes, no, free"),
        (("--frets", "30"), "20 to 24"),
        (("--tuning", "fuor"), "nearest: four"),
        (("--scale-length", "3 in"), "scale"),
        (("-o", "neck.png"), "expected .svg, or a folder"),
    ],
)
def test_bad_neck_requests(groove: Command, arguments: tuple[str, ...], message: str) -> None:
    groove.write("song.txt", SONG)
    said = groove("neck", "song.txt", *arguments)
    assert said.code == 2
    assert message in said.err
    assert groove.files() == {"song.txt"}


@pytest.mark.parametrize(
    ("settings", "message", "hint"),
    [
        ("feel: shufle", "song.txt:7:7: no such feel: 'shufle'", "nearest: shuffle;"),
        ("bass: herom", "song.txt:7:7: no such bass cell: 'herom'", "nearest: heron;"),
        ("drums: bangg", "song.txt:7:8: no such drums cell: 'bangg'", "nearest: bang;"),
        ("keys: out of it", "song.txt:7:7: no such keys cell: 'out of it'", "expected one of"),
    ],
)
def test_show_refuses_the_names_that_tab_refuses(
    groove: Command, settings: str, message: str, hint: str
) -> None:
    """The chart's own riff and drum pattern are among the names that are offered."""
    own = "riff heron:\n  R - 5 .\ndrums bang:\n  kick: 8 . 8 .\n  snare: . 8 . 8\n"
    groove.write("song.txt", f"title: T\n{own}{settings}\nverse:\n| D |\n")
    shown, tabbed = groove("show", "song.txt"), groove("tab", "song.txt")
    assert (shown.code, shown.out) == (2, "")
    assert message in shown.err
    assert hint in shown.err
    assert shown.err == tabbed.err


def test_show_says_that_a_key_was_respelled(groove: Command) -> None:
    # D sharp major would have nine sharps.
    groove.write("song.txt", "key: D# major\nverse:\n| Eb |\n")
    assert "Eb major" in groove("show", "song.txt").err


def test_a_title_cannot_steer_the_terminal(groove: Command) -> None:
    groove.write("song.txt", "title: \x1b[2JBoom\nverse:\n| D |\n")
    said = groove("show", "song.txt")
    assert "\x1b" not in said.out + said.err
    assert "Boom" in said.out


def test_a_stop_in_the_middle_of_a_bar_is_named_before_its_beats(groove: Command) -> None:
    groove.write("song.txt", "verse:\n| D / (stop) E7 / |\n")
    said = groove("show", "song.txt")
    assert "a word in brackets stands at the bar's head" in said.err
    assert "song.txt:2:7" in said.err


NUMBERS = "title: Nine Steps\nkey: Bb\nchords: numbers\nverse:\n| 1 | 6- | 4 | 57 |\n"


def test_a_number_chart_does_not_say_its_numbers_twice(groove: Command) -> None:
    groove.write("song.txt", NUMBERS)
    plain = groove("show", "song.txt").out
    assert groove("show", "song.txt", "--numbers").out == plain
    assert "I        " in groove("show", "song.txt", "--numerals").out


def test_what_is_asked_for_together_is_shown_together(groove: Command) -> None:
    groove.write("song.txt", NUMBERS)
    both = groove("show", "song.txt", "--numerals", "--harmony").out
    alone = groove("show", "song.txt", "--numerals").out
    assert alone.replace("Bb major", "B♭ major").rstrip() in both  # one spelling in one output
    assert groove("show", "song.txt", "--harmony").out in both


def test_a_tab_is_written_to_a_file(groove: Command) -> None:
    groove.write("song.txt", NUMBERS)
    printed = groove("tab", "song.txt", "--bars", "1-2").out
    said = groove("tab", "song.txt", "--bars", "1-2", "-o", "tab.txt")
    assert said.out == "" and "wrote tab.txt" in said.err
    assert (groove.folder / "tab.txt").read_text(encoding="utf-8") == printed


def test_the_tab_as_data_has_the_chosen_bars_alone(groove: Command) -> None:
    groove.write("song.txt", NUMBERS)
    whole = json.loads(groove("tab", "song.txt", "--json").out)
    some = json.loads(groove("tab", "song.txt", "--json", "--bars", "2-3").out)
    assert {note["bar"] for note in whole["notes"]} == {1, 2, 3, 4}
    assert some["notes"] == [note for note in whole["notes"] if note["bar"] in (2, 3)]
    said = groove("tab", "song.txt", "--json", "--bars", "9")
    assert said.code == 2 and "no such bars" in said.err + said.out


SILENT = "title: Rest\nfeel: soul\nverse:\n| N.C. | N.C. |\n"


@pytest.mark.parametrize(
    "command",
    [
        ("show", "--notes"), ("show", "--harmony"), ("show", "--numerals"), ("tab",), ("neck",),
        ("card",), ("sheet", "-o", "x.svg"), ("sheet", "-o", "x.musicxml"),
        ("render", "-o", "x.mid"),
    ],
)  # fmt: skip
def test_a_song_without_a_chord_is_no_mistake(groove: Command, command: tuple[str, ...]) -> None:
    groove.write("song.txt", SILENT)
    said = groove(command[0], "song.txt", *command[1:])
    assert said.code == 0 and "worked out from the chords" not in said.err


def test_a_chart_is_written_out_as_data_too(groove: Command) -> None:
    groove.write("song.txt", NUMBERS)
    data = json.loads(groove("show", "song.txt", "--chart", "--json").out)
    assert data["text"] == groove("show", "song.txt", "--chart").out


def test_neck_tells_what_every_key_asks_of_the_hand(groove: Command) -> None:
    """The same in words and as data: the three keys told last are those of the least travel."""
    groove.write("song.txt", "title: Small Song\nkey: D\nverse:\n| D | Bm | G | A |\n")
    told = groove("neck", "song.txt", "--keys").out.splitlines()
    data = json.loads(groove("neck", "song.txt", "--keys", "--json").out)
    assert next(iter(data)) == "format" and len(data["keys"]) == 12
    least = sorted((way["travel_mm"], way["key"]) for way in data["keys"])[:3]
    words = ", then ".join(f"{key} {travel:.0f} mm" for travel, key in least)
    assert told[-1] == f"The hand travels least in {words}"
    assert [line.split()[0] for line in told[3:15]] == [w["key"].split()[0] for w in data["keys"]]


def test_a_sheet_says_where_no_jump_saves_lines(groove: Command) -> None:
    """A song of two bars has nothing that comes again."""
    groove.write("song.txt", SONG)
    said = groove("sheet", "song.txt", "--jumps", "-o", "part.musicxml")
    assert said.code == 0
    assert "no D.S. or D.C. saves lines here, so every bar stands where it is played" in said.err
