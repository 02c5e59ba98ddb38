"""Tab and tokens under bars: where they sound, on which string, and what is refused.

Open strings: E1 A1 D2 G2 are MIDI 28 33 38 43, a five-string's low B0 is 23, a six-string's high
C3 is 48 (LilyPond 2.24, string-tunings-init.ly, bass tunings; a fret is a half step).  Times are
counted by hand: in 4/4 seventeen columns are a margin and eight slots of an eighth.
"""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.chart.form import unroll
from groove.chart.model import Slur, TabLine, TokenLine, WrittenNote
from groove.chart.parse import parse_chart
from groove.chart.transpose import transpose_song
from groove.chart.write import write_chart
from groove.errors import ChartError

STRINGS = "GDAE"


def lines(rows: dict[str, str], bars: str = "| D |", head: str = "") -> list[TabLine | None]:
    """Return the tab of bars from rows by string."""
    under = "\n".join(f"  {name} {text}" for name, text in rows.items())
    song = parse_chart(f"{head}\nverse:\n  {bars}\n{under}\n")
    found = [bar.line for bar in song.sections[0].bars]
    assert all(line is None or isinstance(line, TabLine) for line in found)
    return [line for line in found if not isinstance(line, TokenLine)]


def bar(head: str = "", **rows: str) -> list[WrittenNote]:
    """Return the notes of one bar; a string that is left out is silent."""
    width = len(next(iter(rows.values())))
    full = {name: f"|{rows.get(name, '-' * width)}|" for name in STRINGS}
    (line,) = lines(full, head=head)
    assert line
    return list(line.notes)


def told(notes: list[WrittenNote]) -> list[tuple[str, str, int | None]]:
    """Return (start, length, pitch) of notes, in quarters."""
    return [(str(n.start_quarters), str(n.length_quarters), n.pitch) for n in notes]


def test_every_string_and_fret_is_its_pitch() -> None:
    tunings = {
        "four": [43, 38, 33, 28],
        "five": [43, 38, 33, 28, 23],
        "six": [48, 43, 38, 33, 28, 23],
        "drop D": [43, 38, 33, 26],
    }
    names = {"four": "GDAE", "five": "GDAEB", "six": "CGDAEB", "drop D": "GDAD"}
    compared = 0
    for tuning, opens in tunings.items():
        for string, open_pitch in enumerate(opens):
            for fret in range(25):
                rows = [
                    f"  {name} |{f'{fret}==' if i == string else '-' * len(f'{fret}==')}|"
                    for i, name in enumerate(names[tuning])
                ]
                width = len(rows[0]) - 6
                pad = -width % 4
                rows = [row[:-1] + "-" * pad + "|" for row in rows]
                text = f"tuning: {tuning}\nverse:\n  | D |\n" + "\n".join(rows)
                line = parse_chart(text).sections[0].bars[0].line
                assert isinstance(line, TabLine)
                (note,) = line.notes
                assert (note.string, note.fret) == (string + 1, fret)
                assert note.pitch == open_pitch + fret
                compared += 1
    assert compared == 25 * (4 + 5 + 6 + 4)


RHYTHMS = [
    # columns, meter, signs on E, (start, length) in quarters
    ("-0-3-5-3-", "4/4", ["0 1", "1 1", "2 1", "3 1"]),
    ("-0-3-5-", "3/4", ["0 1", "1 1", "2 1"]),
    ("-0==-3-----5-----", "4/4", ["0 1", "1 1/2", "5/2 1/2"]),
    ("-0==-3-5==-3-", "6/8", ["0 1", "1 1/2", "3/2 1", "5/2 1/2"]),
    ("-0==-3-0==-3-0==-3-0-----", "4/4", ["0 2/3", "2/3 1/3", "1 2/3", "5/3 1/3", "2 2/3",
     "8/3 1/3", "3 1/3"]),
    ("-0======-3-----------5-----------", "4/4", ["0 1", "1 1/4", "5/2 1/4"]),
    ("0-3-5-3-", "4/4", ["0 1", "1 1", "2 1", "3 1"]),
    ("0===3=5=", "4/4", ["0 2", "2 1", "3 1"]),
    ("-0==-3-5==-3-5-3-0======-", "12/8", ["0 1", "1 1/2", "3/2 1", "5/2 1/2", "3 1/2", "7/2 1/2",
     "4 2"]),
    ("-0-3-5-3-0-3-5-", "7/8", ["0 1/2", "1/2 1/2", "1 1/2", "3/2 1/2", "2 1/2", "5/2 1/2",
     "3 1/2"]),
]  # fmt: skip


def test_columns_are_read_as_times() -> None:
    compared = 0
    for columns, meter, wanted in RHYTHMS:
        notes = bar(f"meter: {meter}", E=columns)
        found = [f"{n.start_quarters} {n.length_quarters}" for n in notes]
        assert found == wanted, columns
        compared += len(found)
    assert compared == 45


def test_a_column_is_as_wide_as_its_longest_number() -> None:
    """Typed by hand: the second beat's ten takes one column more, on every string."""
    notes = bar(G="-9-10-7-9-", D="----------")
    assert told(notes) == [("0", "1", 52), ("1", "1", 53), ("2", "1", 50), ("3", "1", 52)]
    assert told(bar(G="-10-9--7--9--")) == [("0", "1", 53), ("1", "1", 52), ("2", "1", 50),
                                            ("3", "1", 52)]  # fmt: skip


def test_a_row_of_beats_says_where_the_beats_are() -> None:
    rows = {"G": "|---------|", "D": "|---------|", "A": "|---------|", "E": "|--0--3-5-|"}
    text = "\n".join(f"  {name} {row}" for name, row in rows.items())
    song = parse_chart(f"verse:\n  | D |\n{text}\n       1 2 3 4\n")
    line = song.sections[0].bars[0].line
    assert isinstance(line, TabLine)
    assert told(list(line.notes)) == [("0", "3/2", 28), ("3/2", "1", 31), ("5/2", "3/2", 33)]


def test_what_a_phone_made_of_dashes_is_read_as_it_was_typed() -> None:
    plain = bar(E="-0--3-5--", A="--------2")
    phone = lines({"g": "|————-|", "d": "|————-|", "a": "|————2|", "e": "|-0—3-5—|"})[0]
    assert phone is not None and list(phone.notes) == plain


def test_signs_say_how_a_note_is_played() -> None:
    notes = bar(D="-5h7-5p3-5/7-7\\5-", A="---------------x-")
    assert [n.slur for n in notes] == [
        *(None, Slur.HAMMER_ON, None, Slur.PULL_OFF, None, Slur.SLIDE),
        *(None, Slur.SLIDE, None),
    ]
    assert [n.pitch for n in notes] == [43, 45, 43, 41, 43, 45, 45, 43, None]
    (bent,) = bar(G="-7b9----")
    assert (bent.pitch, bent.bend_semitones) == (50, 2)
    (shaken,) = bar(G="-7~~----")
    assert shaken.has_vibrato


def test_natural_harmonics_sound_their_partials() -> None:
    """A string touched at its half, third, fourth, fifth: 12, 19, 24, 28 half steps up."""
    wanted = {12: 12, 7: 19, 5: 24, 4: 28, 9: 28, 19: 19, 24: 24}
    for node, semitones in wanted.items():
        sign = f"<{node}>"
        (note,) = bar(A=sign.ljust(8, "="))
        assert (note.pitch, note.is_harmonic) == (33 + semitones, True)
    assert len(wanted) == 7


def test_a_hold_at_the_head_of_a_bar_is_tied() -> None:
    rows = {name: "|--------|--------|" for name in "GDA"} | {"E": "|0---3===|==--5---|"}
    first, second = lines(rows, "| D | A |")
    assert first and second
    assert told(list(first.notes))[1] == ("2", "2", 31)
    assert [(n.is_tied, n.pitch) for n in second.notes] == [(True, 31), (False, 33)]
    assert second.notes[0].length_quarters == 1


def test_double_stops_and_empty_bars() -> None:
    rows = {"G": "|2===| |", "D": "|2===| |", "A": "|----| |", "E": "|----| |"}
    first, second = lines(rows, "| D | A |")
    assert first and second is None
    assert told(list(first.notes)) == [("0", "4", 45), ("0", "4", 40)]


def test_tokens_stand_under_bars_too() -> None:
    song = parse_chart("verse:\n  | D | A | D |\n  Bass | R - 5 … 8 @E1 | | r __. |\n")
    found = [bar.line for bar in song.sections[0].bars]
    texts = [
        " ".join(slot.token for slot in line.slots) if isinstance(line, TokenLine) else None
        for line in found
    ]
    assert texts == ["R - 5 . . . 8 @E1", None, "r . . ."]


def test_written_notes_move_with_the_song() -> None:
    song = parse_chart("key: D\nverse:\n  | D |\n  G|----|\n  D|0--2|\n  A|5---|\n  E|---3|\n")
    up = transpose_song(song, 3).sections[0].bars[0].line
    down = transpose_song(song, -3).sections[0].bars[0].line
    assert isinstance(up, TabLine) and isinstance(down, TabLine)
    assert [(n.string, n.fret, n.pitch) for n in up.notes] == [
        (2, 3, 41), (3, 8, 41), (2, 5, 43), (4, 6, 34),
    ]  # fmt: skip
    # D2 a minor third lower has no place on its own string: B1 on the A string.
    assert [(n.string, n.fret, n.pitch) for n in down.notes] == [
        (3, 2, 35), (3, 2, 35), (3, 4, 37), (4, 0, 28),
    ]  # fmt: skip
    with pytest.raises(ChartError, match="comes to D#1, which is not on the neck") as caught:
        transpose_song(song, -4)
    assert (caught.value.place.line, caught.value.place.column) == (7, 8)
    assert "drop D" in caught.value.hint


def test_played_bars_carry_what_is_written_under_them() -> None:
    text = "verse:\n  |: D :|\n  G|----|\n  D|----|\n  A|5---|\n  E|----|\n"
    bars = unroll(parse_chart(text.replace("|:", "transpose: 2\n  |:")))
    assert len(bars) == 2
    for played in bars:
        assert isinstance(played.line, TabLine)
        assert [note.pitch for note in played.line.notes] == [40]


TAB = "  G|--------|\n  D|--------|\n  A|--------|\n"
FAULTS = [
    (TAB + "  E|-----|", 6, 5, "found 5 columns where the string above has 8"),
    (TAB + "  E|--25----|", 6, 7, "found fret 25"),
    (TAB + "  E|--0q----|", 6, 8, "found 'q' on a string"),
    (TAB + "  E|--=-----|", 6, 7, "found = that holds nothing"),
    (TAB + "  E|--5h----|", 6, 8, "found 'h' that leads to nothing"),
    (TAB + "  E|--h5----|", 6, 8, "found a hammer-on with no note before it"),
    (TAB + "  E|--7h5---|", 6, 9, "found a hammer-on from fret 7 to 5"),
    (TAB + "  E|--7b6---|", 6, 7, "found a bend from fret 7 to 6"),
    (TAB + "  E|--<8>---|", 6, 7, "found no harmonic at fret 8"),
    (TAB + "  E|--------|---|", 6, 3, "found 2 bars under a line of 1"),
    (TAB + "  E|:-------|", 6, 4, "found '|:' in a row"),
    (TAB, 5, 3, "found 3 strings under these bars"),
    (TAB + "  D|--------|", 6, 3, "found the string D where E belongs"),
    (TAB + "  E|--------|\n  B|--------|", 7, 3, "found 5 strings under these bars"),
    (TAB + "  E|--------|\n     1 2 3", 7, 6, "found 3 beats under a bar of 4"),
    (TAB + "  E|--------|\n  verse, bar 1", 7, 3, "found a heading of a printed tab"),
    (TAB + "  E|--------|\n  D      A", 7, 3, "found chord names without bar lines"),
    ("  bass | R 5 R |", 3, 9, "found 3 slots in a bar of 4/4: 4 beats"),
    ("  bass | R 5 Q 5 |", 3, 14, "found 'Q'"),
    ("  bass | R 5 . - |", 3, 16, "found a hold after a rest"),
    ("  bass | R 5 . . |\n  bass | R 5 . . |", 4, 3, "found a second row"),
    ("  bass | R 5 . . | |", 3, 3, "found 2 bars under a line of 1"),
    (TAB.replace("--------", "---------------") + "  E|-0-------------|", 3, 5, "found 15 columns"),
]


@pytest.mark.parametrize(("rows", "line", "column", "message"), FAULTS)
def test_what_is_wrong_is_told_at_its_place(
    rows: str, line: int, column: int, message: str
) -> None:
    with pytest.raises(ChartError) as caught:
        parse_chart(f"verse:\n  | D |\n{rows}\n")
    assert caught.value.message.startswith(message)
    assert (caught.value.place.line, caught.value.place.column) == (line, column)
    assert caught.value.hint


def test_a_hold_needs_a_note_where_the_bar_before_is_written() -> None:
    rows = TAB.replace("|--------|", "|--------|--------|")
    with pytest.raises(ChartError) as caught:
        parse_chart(f"verse:\n  | D | A |\n{rows}  E|--------|==------|\n")
    assert caught.value.message.startswith("found = at the head of a bar")
    assert (caught.value.place.line, caught.value.place.column) == (6, 14)


def test_a_hold_after_a_drawn_bar_holds_what_sounds_there() -> None:
    """The tie has no fret and no pitch of its own; it lasts two of the eight slots."""
    rows = TAB.replace("|--------|", "| |-----------------|")
    (bar,) = [
        bar
        for bar in parse_chart(f"verse:\n  | D | A |\n{rows}  E| |====-------------|\n")
        .sections[0]
        .bars
        if bar.line
    ]
    assert isinstance(bar.line, TabLine)
    assert [
        (n.start_quarters, n.length_quarters, n.string, n.fret, n.pitch, n.is_tied)
        for n in bar.line.notes
    ] == [(Fraction(0), Fraction(1), 4, None, None, True)]


def test_a_hold_in_a_second_ending_goes_on_from_the_bar_before_the_first() -> None:
    """E1 is MIDI 28: fret 5 of the lowest string, 33, rings into the second ending alone."""
    rows = "".join(f"  {name}|--------|--------|--------|\n" for name in "GDA")
    text = f"verse:\n  |: D |1. A :|2. G |\n{rows}  E|5=======|--------|=-------|\n"
    found = [bar.line for bar in parse_chart(text).sections[0].bars]
    assert [
        [(n.fret, n.pitch, n.is_tied) for n in line.notes]
        for line in found
        if isinstance(line, TabLine)
    ] == [[(5, 33, False)], [], [(5, 33, True)]]


def test_a_row_without_bars_above_is_refused() -> None:
    for text in ("verse:\n  G|--|\n", "G|--|\n", "verse:\n| D |\n  bass: out\n  G|--|\n"):
        with pytest.raises(ChartError):
            parse_chart(text)


def test_lines_are_written_as_they_are_read() -> None:
    text = (
        "verse:\n  | D | A | G | E |\n"
        "  G|-----5h7---------|-7b9-------------|----|   |\n"
        "  D|-10==------------|-----------2~~~--|----|   |\n"
        "  A|---------x---0===|====-------------|----|   |\n"
        "  E|-----------3-----|---------<12>----|----|   |\n"
    )
    song = parse_chart(text)
    assert parse_chart(write_chart(song)) == song
    moved = transpose_song(song, 5)
    assert parse_chart(write_chart(moved)) == moved


def test_fractions_are_quarters() -> None:
    assert bar("meter: 6/8", E="-0-----3-----")[1].start_quarters == Fraction(3, 2)


SIGNS = ["-"] * 10 + ["="] * 5 + ["0", "2", "5", "7", "12", "x", "5h7", "7p5", "5/7", "\\3", "/9"]
SIGNS += ["7b9", "7~", "<12>", "h", "—", "…", "25", " ", "q", "-0==-3-", "--", "----"]
WRITTEN = st.lists(st.sampled_from(SIGNS), max_size=9)
WIDTHS = st.sampled_from([1, 4, 8, 9, 13, 16, 17, 25, 33])
ONE_IN_TEN = st.sampled_from([False] * 9 + [True])


@st.composite
def tabs(draw: st.DrawFn) -> str:
    """Draw a chart with a line of tab under one or two bars, right or nearly so."""
    meter = draw(st.sampled_from(["4/4", "3/4", "6/8", "7/8", "1/4", "5/4"]))
    count = draw(st.integers(1, 2))
    rows = {name: "|" for name in STRINGS}
    for _ in range(count):
        width = draw(WIDTHS)
        for name in STRINGS:
            body = "".join(draw(WRITTEN))
            body = "" if draw(ONE_IN_TEN) else body[:width].ljust(width, "-")
            rows[name] += body + "|"
    under = "\n".join(f"  {name} {row}" for name, row in rows.items())
    beats = draw(st.sampled_from(["", "", "", "\n     1   2   3   4"]))
    return f"meter: {meter}\nverse:\n  |{' D |' * count}\n{under}{beats}\n"


@settings(max_examples=100)
@given(tabs())
def test_any_tab_is_read_back_or_refused_with_its_place(text: str) -> None:
    try:
        song = parse_chart(text)
    except ChartError as error:
        assert text.split("\n")[error.place.line - 1].startswith(error.place.text)
        assert 1 <= error.place.column <= len(error.place.text) + 1
        assert error.hint
        return
    bars = song.sections[0].bars
    for bar in bars:
        notes = bar.line.notes if isinstance(bar.line, TabLine) else ()
        for note in notes:
            assert 0 <= note.start_quarters < bar.meter.bar_quarters
            assert note.length_quarters > 0
            assert note.start_quarters + note.length_quarters <= bar.meter.bar_quarters
    assert parse_chart(write_chart(song)) == song


def test_short_notes_between_rests_are_written_so_that_they_stay_short() -> None:
    """Two eighths on beats 1 and 3; the tie at the head makes rests of the dashes."""
    rows = {name: "|0=======|--------|" for name in "G"} | {
        name: "|--------|--------|" for name in "DAE"
    }
    text = "verse:\n  | D | A |\n" + "\n".join(f"  {n} {row}" for n, row in rows.items())
    song = parse_chart(text.replace("|--------|\n  D", "|5=--7=--|\n  D", 1))
    (line,) = [bar.line for bar in song.sections[0].bars[1:]]
    assert isinstance(line, TabLine)
    assert [str(note.length_quarters) for note in line.notes] == ["1", "1"]
    assert parse_chart(write_chart(song)) == song


def test_two_columns_are_a_slot_where_numbers_are_wide_too() -> None:
    """Four quarters of two columns, the ten one column wide: 9- 10- 7= 9-."""
    notes = bar(G="-9-10-7=9-", D="----------")
    assert [str(note.length_quarters) for note in notes] == ["1", "1", "1", "1"]


def test_a_note_beside_a_wider_sign_lasts_a_slot_at_least() -> None:
    """Four columns of one string are one where the harmonic stands, so the fret has one too."""
    notes = bar(A="-<12>---", E="\\3=-----")
    assert all(note.length_quarters > 0 for note in notes) and len(notes) == 2
    inside = bar(A="-<12>---", E="\\3\\3----")
    assert len({note.start_quarters for note in inside if note.string == 4}) == 2


def test_a_slide_after_a_silence_comes_from_nowhere() -> None:
    """Held for a beat, a beat of silence, a slide in: sixteen columns are eight slots."""
    apart = bar(A="-5==---/7==-5----")
    assert told(apart)[0] == ("0", "3/4", 38)
    assert [n.slur for n in apart] == [None, Slur.SLIDE, None]
    joined = bar(A="-5====/7==-5-----")
    assert told(joined)[:2] == [("0", "3/2", 38), ("3/2", "1", 40)]
    # A hammer-on has no stroke of its own: what it comes from sounds until then.
    hammered = bar(A="-5==---h7==-5----")
    assert told(hammered)[0] == ("0", "7/4", 38)


def test_an_octave_moves_what_is_written_and_no_chord() -> None:
    """D2 on the fifth fret of the A string; an octave up is its seventeenth, D3 (50)."""
    rows = "\n".join(f"{name} |{'-5==-5---' if name == 'A' else '-' * 9}|" for name in STRINGS)
    song = parse_chart(f"key: Bb\nverse:\n| Bb7 |\n{rows}\nriff knock:\n  @D2 . R .\n")
    up = transpose_song(song, 12)
    line = up.sections[0].bars[0].line
    assert isinstance(line, TabLine)
    assert [(note.string, note.fret, note.pitch) for note in line.notes] == [(3, 17, 50)] * 2
    assert up.sections[0].bars[0].chords == song.sections[0].bars[0].chords
    assert up.settings.key == song.settings.key
    assert up.riffs[0].rows[0].bars[0][0].token == "@D3"
    assert transpose_song(up, -12) == song
