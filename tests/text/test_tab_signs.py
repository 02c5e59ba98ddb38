"""The signs of a written line stand in the printed tab as the player wrote them.

Hammer-ons, pull-offs, slides, bends, vibrato and natural harmonics: common practice, no source; the
rows are written here by hand, and the bar of eighths gets the columns that it had.
"""

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, perform_song
from groove.text.neck_data import neck_data
from groove.text.tab import tab_text

ROWS = [
    "G |-----------------|-----------------|",
    r"D |-5h7-7p5-5/9-9\7-|-<12>=====<7>====|",
    "A |-----------------|-----------------|",
    "E |-----------------|-----------------|",
]
STOPS = [
    "G |--------|",
    "D |--------|",
    "A |5=======|",
    "E |3=======|",
]


def printed(rows: list[str], bars: str, library: Library) -> list[str]:
    text = f"verse:\n  {bars}\n" + "".join(f"  {row}\n" for row in rows)
    performance = perform_song(parse_chart(text), library, PerformOptions(tight=True))
    return tab_text(finger_performance(performance)[0]).splitlines()


def test_slurs_and_slides_stand_before_the_fret_they_lead_to(library: Library) -> None:
    lines = printed([row[: row.rindex("|", 0, -1) + 1] for row in ROWS], "| D |", library)
    assert r"D |-5h7-7p5-5/9-9\7-|" in lines
    told = lines[-2] + lines[-1]
    for words in ("/ slide into", r"\ slide down", "h hammer-on", "p pull-off"):
        assert words in told


def test_bends_vibrato_and_harmonics_are_shown(library: Library) -> None:
    compared = 0
    for sign, shown in (("7b9", "7b9="), ("7~", "7~="), ("<12>", "<12>="), ("3b5~", "3b5~=")):
        own = "-" + sign + "=" * (16 - len(sign))
        names = ["G", "D", "A", "E"]
        text = [f"{n} |{own if n == 'D' else '-' * 17}|" for n in names]
        (line,) = [line for line in printed(text, "| D |", library) if line.startswith("D |-")]
        assert shown in line
        compared += 1
    assert compared == 4


def test_a_double_stop_over_a_bar_line_is_held_on_both_strings(library: Library) -> None:
    rows = [row + ("=-------|" if "=" in row else "--------|") for row in STOPS]
    lines = [line for line in printed(rows, "| D | D |", library) if "|" in line]
    held = [line for line in lines if line.startswith(("A", "E"))]
    assert [line.split("|")[2].startswith("=") for line in held] == [True, True]


def test_data_say_whose_a_note_is_and_where_it_is_written(library: Library) -> None:
    text = "verse:\n  | D | G |\n" + "".join(f"  {row[:-1]}| |\n" for row in STOPS)
    performance = perform_song(parse_chart(text), library, PerformOptions(tight=True))
    placed, line = finger_performance(performance)
    notes = neck_data(line, placed.bars)["notes"]
    makers = [(note["bar"], note["origin"]["maker"]) for note in notes]
    assert makers[:2] == [(1, "written"), (1, "written")]
    assert {maker for bar, maker in makers if bar == 2} == {"cell"}
    places = [note["origin"]["written_at"] for note in notes]
    assert places[:2] == [{"line": 6, "column": 6}, {"line": 5, "column": 6}]
    assert places[2] is None
