"""``groove feels``: feels listed, drawn, measured, and found by their styles."""

import pytest

from tests.cli.command import Command
from tests.click_font import EVERY_PRESET, click_font


def test_feels_lists_and_draws(groove: Command) -> None:
    listed = groove("feels")
    names = [line.split("  ")[0] for line in listed.out.splitlines()]
    assert len([name for name in names if name]) >= 19
    assert "sixteenths" in names
    drawn = groove("feels", "sixteenths").out
    row = next(line for line in drawn.splitlines() if "R   -   x   R" in line)
    assert row.count("|") == 3
    assert "kick" in drawn
    assert groove("feels", "pedal").out.startswith("bass: pedal")


def test_an_unknown_feel_gives_the_nearest(groove: Command) -> None:
    said = groove("feels", "shufle")
    assert said.code == 2
    assert "nearest: shuffle" in said.err


def test_a_style_finds_its_feels(groove: Command) -> None:
    listed = groove("feels", "Funk").out
    assert "funk" in next(line for line in listed.splitlines() if line.startswith("sixteenths "))
    assert "walking" not in listed and "bass cells" not in listed
    assert groove("feels", "dub").out.startswith("one drop: ")
    rows = groove("feels", "dub", "--measure", "--json").json
    assert {row["feel"] for row in rows} == {"one drop"}
    assert groove("feels", "dub", "--json").json[0]["also"][0] == "reggae"
    assert "nearest: reggae" in groove("feels", "raggae", "--measure").err
    cell = groove("feels", "pedal", "--measure")
    assert cell.code == 2 and "no such feel or cell: 'pedal'" in cell.err


@pytest.mark.usefixtures("one_key", "no_drawings")
@pytest.mark.parametrize(
    "command",
    [
        ("show",),
        ("tab",),
        ("neck",),
        ("card",),
        ("sheet", "-o", "a.musicxml"),
        ("page", "-o", "a.html"),
    ],
)
def test_every_command_says_which_feel_a_style_was_taken_for(
    groove: Command, command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    monkeypatch.setenv("GROOVE_SOUNDFONT", "click.sf2")
    text = "title: A\ntempo: 80\nkey: A\nfeel: dub\na:\n| Am7 | D7 |\n"
    (groove.folder / "a.txt").write_text(text, encoding="utf-8")
    said = groove(command[0], "a.txt", *command[1:])
    assert said.code == 0
    assert said.err.count("feel: one drop, for dub") == 1
    if command[0] == "page":
        return  # it reads the chart as the others do, and each page takes a quarter of a second
    in_six = "title: A\ntempo: 60\nmeter: 6/8\nkey: A\nfeel: {}\na:\n| Am7 | D7 |\n"
    for feel, expected in (
        ("jazz", "feel: six-eight, the usual one in 6/8: no feel for jazz fits that meter"),
        ("walking", "bars in 6/8 take the feel six-eight: walking is in 4/4"),
    ):
        (groove.folder / "a.txt").write_text(in_six.format(feel), encoding="utf-8")
        said = groove(command[0], "a.txt", *command[1:])
        assert [line for line in said.err.splitlines() if "feel" in line] == [expected]


def test_a_feel_says_its_styles_and_its_bass(groove: Command) -> None:
    """Common practice, no source: a walking line is an upright's."""
    head = groove("feels", "walking").out.splitlines()[:3]
    assert head[0].startswith("walking: jazz, swing") and head[2].endswith("bass tone upright")
    (row,) = groove("feels", "driving eighths", "--json").json
    assert row["bass_tone"] == "pick"


def test_measure_prints_a_row_a_tempo(groove: Command) -> None:
    rows = groove("feels", "sixteenths", "--measure", "--json").json
    assert [row["tempo_bpm"] for row in rows] == [72, 88, 104]
    for row in rows:
        # Common practice, no source: seven kicks of ten with bass, 10-30 % ghosts, 9-16 dB under.
        assert row["kick_agreement"] >= 0.7
        assert 0.1 <= row["ghost_share"] <= 0.3
        assert 9 <= row["ghosts_under_db"] <= 16
        assert row["wide_leaps"] == 0


def test_the_tokens_of_a_row_are_printed_as_a_table(groove: Command) -> None:
    said = groove("feels", "--tokens")
    assert said.code == 0 and said.out.startswith("R 8 ")
    assert "@E1 @Bb2" in said.out and ">*" in said.out


def test_a_name_of_two_words_needs_no_quotes(groove: Command) -> None:
    quoted = groove("feels", "one drop")
    assert quoted.code == 0 and quoted.out.startswith("one drop")
    assert groove("feels", "one", "drop") == quoted
    assert groove("feels", "--json", "one", "drop") == groove("feels", "one drop", "--json")
    assert "no such feel or cell: 'one dropp'" in groove("feels", "one", "dropp").err


@pytest.mark.parametrize(
    ("settings", "expected"),
    [
        ("tempo: 74\nfeel: dub", "♩ = 74   4/4   one drop"),
        ("tempo: 60\nmeter: 6/8\nfeel: walking", "♩. = 60   6/8   six-eight"),
        ("tempo: 74\nfeel: dub\nb:\n  feel: soul\n  | D |", "♩ = 74   4/4   soul (a one drop)"),
    ],
)
def test_a_shown_song_is_headed_with_the_feel_that_plays(
    groove: Command, settings: str, expected: str
) -> None:
    text = f"title: A\n{settings}\na:\n| A | D |\n"
    (groove.folder / "a.txt").write_text(text, encoding="utf-8")
    assert groove("show", "a.txt").out.splitlines()[1] == expected
