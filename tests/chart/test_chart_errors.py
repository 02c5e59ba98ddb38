"""Planted mistakes: each is refused at its line and column, with what would do.

In the charts below the text that the caret must underline stands between « and ».
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.chart.parse import parse_chart
from groove.errors import ChartError
from groove.text.notices import notice_texts
from groove.timing import Meter
from tests.strategies_chart import METERS, known_symbols

PLANTED = [
    # (chart, words of the message, words of the hint)
    # Lines that are nothing.
    ("«verse»", "without a bar line or a colon", "verse:"),
    ("«Verse 1»\n| D |", "without a bar line or a colon", "expected a section (Verse 1:)"),
    ("«D  Em G»", "without a bar line", "(| D | Em | G |)"),
    ("«walking down the long road»", "without a bar line", "expected a section (verse:)"),
    ("«Verse x2»", "without a bar line", "expected a section (verse:)"),
    ("verse:\n  «D | A |»", "found bars without", "| D | A |"),
    ("«#lantern»\nverse:\n| D |", "without", "a comment has a space after its #"),
    ("«:» 3", "colon without a name", "verse:"),
    ("«[Verse]»\n| D |", "heading in brackets", "with a colon: Verse:"),
    ("verse:\n| D |\n«[ Chorus 2 ]»\n| D |", "heading in brackets", "with a colon: Chorus 2:"),
    (
        "v:\n| D |\nG |----|\nD |----|\nA |----|\nE |----|\n«[Solo]»\n| D |",
        "heading in brackets",
        "with a colon: Solo:",
    ),
    # Blocks.
    (
        "riff foo: «R - . 5»\nv:\n| D |",
        "on the line of its name",
        "riff foo:  and under it  R - . 5",
    ),
    (
        "keys foo: «7 - . .»\nv:\n| D |",
        "on the line of its name",
        "keys foo:  and under it  7 - . .",
    ),
    ("drums foo: «9 . . .»\nv:\n| D |", "on the line of its name", "and under it  kick: 9 . . ."),
    ("drums foo: «snare: . 9»\nv:\n| D |", "of its name: drums foo", "under it  snare: . 9"),
    ("«riff foo:»\nverse:\n| D |", "found nothing under 'riff foo'", "its row, e.g. R - . 5"),
    ("«drums foo:»\nverse:\n| D |", "nothing under 'drums foo'", "its row, e.g. kick: 9 . . ."),
    ("«keys foo:»\nverse:\n| D |", "nothing under 'keys foo'", "its row, e.g. 7 - . . 6"),
    # Sections.
    ("verse: «| D | A |»", "bars on the line of a name", "two lines:  verse:  and under it  | D |"),
    ("intro:  «|: D :|»", "bars on the line of a name", "intro:"),
    ("a:\n«bass:»\n| D |", "bass is a setting", "a setting's name cannot be a section's"),
    ("«Title:»", "title is a setting", "title: Lantern Row"),
    ("verse:\n| D |\n«VERSE:»\n| A |", "stands twice, first in line 1", "another name"),
    ("«verse, loud:»\n| D |", "cannot be called", "without a comma"),
    ("«verse x2:»\n| D |", "cannot be called", "not ending in x and a number"),
    ("«X2:»\n| D |", "cannot be called", "not ending in x and a number"),
    ("«a x 3:»\n| D |", "cannot be called", "not ending in x and a number"),
    ("«" + "a" * 61 + ":»\n| D |", "cannot be called", "at most 60 letters"),
    ("«verse:»\nkey: D", "has no bars", "| D | A |"),
    ("verse:\n«|»", "no bar", "| D | A |"),
    ("«| D |»", "before any section", "verse:"),
    # Settings.
    ("«tempoo»: 84", "no such setting: 'tempoo'", "nearest: tempo"),
    ("verse:\n  «fils»: few\n| D |", "no such setting", "nearest: fills"),
    ("«verse»: D A", "no such setting", "a section's name stands alone"),
    ("tempo: 84\n«tempo»: 90", "given twice, first in line 1", "strike one out"),
    ("verse:\nkey: D\n  «Key»: A\n| D |", "key is given twice, first in line 2", "one line"),
    ("title: a\nverse:\n| D |\n«title»: b", "title is given twice", "one line"),
    ("tempo: «fast»", "cannot read tempo 'fast'", "84 to 60"),
    ("tempo: «0»", "cannot read tempo", "beats per minute"),
    ("tempo: «900»", "cannot read tempo", "up to 400"),
    ("tempo: «84 to»", "cannot read tempo", "84 to 60"),
    ("tempo: «84 to 60»\nverse:\n| D |", "for every section to begin anew", "(ritard) in a bar"),
    ("meter: 12/8\ntempo: «300»", "out of range in 12/8", "♩."),
    ("meter: «4/3»", "cannot read meter", "6/8"),
    ("meter: «four»", "cannot read meter", "4/4"),
    ("key: «H minor»", "cannot read key", "F# minor"),
    ("fills: «fwe»", "cannot read fills", "nearest: few"),
    ("loudness: «loud»", "cannot read loudness", "pp, p, mp, mf, f, ff"),
    ("swing: «80% eighths»", "cannot read swing", "50% to 78%"),
    ("swing: «58%»", "cannot read swing", "58% eighths"),
    ("swing: «58% quarters»", "cannot read swing", "58% eighths"),
    ("transpose: «25»", "cannot read transpose", "from -24 to 24"),
    ("seed: «x»", "cannot read seed", "whole number"),
    ("pickup: «4»\nverse:\n| D |", "a pickup of 4 beats", "3 beats at most"),
    (
        "pickup: «3»\nmeter: 4/4\na:\n| D |\nb:\n| (2/4) D |\nform: b",
        "before a bar of 2/4",
        "1 beat at most",
    ),
    ("pickup: «2»\nmeter: 6/8\na:\n| D |", "before a bar of 6/8", "e.g. 1 eighth"),
    ("pickup: «6 eighths»\nmeter: 6/8\na:\n| D |", "a pickup of 6 eighths", "1 beat at most"),
    ("pickup: «1 quarter»\na:\n| D |", "cannot read pickup", "as 2, 3 eighths or"),
    ("chords: «roman»\nverse:\n| D |", "cannot read chords", "letters, numbers"),
    ("chords: «numbers»\nverse:\n| 1 |", "need a key", "key: D"),
    # The form.
    ("verse:\n| D |\nform: verse, «vers x2»", "no such section: 'vers x2'", "nearest: verse"),
    ("verse:\n| D |\nform: «chorus»", "no such section: 'chorus'", "one of: verse"),
    (
        "verse:\n| D |\nform: «verse x2 verse»",
        "no such section",
        "x2 after a name: verse x2, verse",
    ),
    ("verse:\n| D |\nform: «verse - verse»", "no such section", "a name: verse, verse"),
    ("verse:\n| D |\nform: «verse -> verse»", "no such section", "a name: verse, verse"),
    ("A-1:\n| D |\nform: «2x a-1 - a-1 a-1»", "no such section", "name: A-1 x2, A-1, A-1"),
    ("verse:\n| D |\nform: «2x verse»", "no such section", "a name: verse x2"),
    ("A:\n| D |\nA 2:\n| D |\nform: «a 2 a a»", "no such section", "a name: A 2, A, A"),
    ("A:\n| D |\nform: A, «a 2x a x3»", "no such section", "a name: A x2, A x3"),
    ("verse:\n| D |\nform: «verse vrse»", "no such section", "nearest: verse; expected one of"),
    ("verse:\n| D |\nform: verse, «,» verse", "nothing between two commas", "section"),
    ("verse:\n| D |\nform: «verse x100»", "a section 100 times", "x1 to x99"),
    ("verse:\n| D |\nform: «verse x0»", "a section 0 times", "x1 to x99"),
    # Bars.
    ("verse:\n| D «| |» A |", "bar with nothing in it", "% for the bar before again, or N.C."),
    ("verse:\n| D «||||» A |", "bar with nothing in it", "N.C."),
    ("verse:\n| D | «(stop)» | A |", "bar with no chord in it", "N.C."),
    ("verse:\n| «D A G» |", "3 chords in a bar of 4 beats (4/4)", "| D / A G |"),
    ("verse:\n| D | «A G E D F» |", "5 chords in a bar of 4 beats", "| A / G E | D F |"),
    ("meter: 3/4\nverse:\n| «D A» |", "2 chords in a bar of 3 beats (3/4)", "| D / A |"),
    ("meter: 6/8\nverse:\n| «D A G» |", "3 chords in a bar of 2 beats (6/8)", "| D A | G |"),
    ("verse:\n| D / «A» |", "3 beats in a bar of 4/4, expected 4", "| D / A / |"),
    ("verse:\n| D / A / «G» |", "5 beats in a bar of 4/4, expected 4", "is one beat: | D / A G |"),
    ("verse:\n| G C D Em «/» F |", "6 beats in a bar of 4/4", "| G / C D | Em F |"),
    ("verse:\n| D / / / «A» / G / |", "8 beats in a bar", "| D / / / | A / G / |"),
    ("verse:\n| D | / / A / «/» |", "5 beats in a bar of 4/4", ": | / / A / |"),
    ("meter: 6/8\nverse:\n| D / «/» Em / / |", "6 beats in a bar of 6/8", "quarter: | D Em |"),
    ("meter: 6/8\nverse:\n| C / «D/C» |", "3 beats in a bar of 6/8", "| C D/C |"),
    ("meter: 2/2\nverse:\n| C / «/» G |", "4 beats", "in 2/2 a half note: | C / | / G |"),
    ("verse:\n| «/» / / / |", "/ with no chord before it", "a section's first bar"),
    ("verse:\n| «%» | D |", "% with no bar before it", "a section's first bar"),
    ("a:\n| D |\nb:\n| «%» |", "% with no bar before it", "a section's first bar"),
    ("verse:\n| D | A «%» |", "% beside other chords", "% alone in its bar"),
    ("verse:\n| «(held)» D |", "no such word to the band: '(held)'", "nearest: hold"),
    ("verse:\n| «(3/5)» D |", "no such word to the band", "a meter as (3/4)"),
    ("verse:\n| «(stop» D |", "no such word to the band", "nearest: stop"),
    ("verse:\n| (stop) «(hold)» D |", "a second (hold)", "one of its kind"),
    ("verse:\n| (3/4) «(4/4)» D |", "a second (4/4)", "one of its kind"),
    ("verse:\n| D «(stop)» |", "cannot read the chord", "at the bar's head"),
    # Pushes.
    ("verse:\n| D | «<N.C.» |", "cannot push '<N.C.'", "<G"),
    ("verse:\n| D | «<%» |", "cannot push '<%'", "16<G"),
    ("verse:\n| D | «<<<G» |", "cannot push '<<<G'", "16<G (a sixteenth)"),
    ("verse:\n| D | «3<G» |", "cannot push '3<G'", "<G (an eighth early), 16<G"),
    ("verse:\n| D | «2.<G» |", "cannot push '2.<G'", "8.<G or 4<G"),
    ("chords: numbers\nkey: C\nverse:\n| 1 | «3<5» |", "cannot push '3<5'", "16<G"),
    ("verse:\n| D | «<» A |", "cannot push '<'", "an eighth early"),
    ("verse:\n| D «</» / / |", "cannot push '</'", "an eighth early"),
    # Repeats and endings.
    ("verse:\n«|:» D | A |", "opened and never closed", "expected :|"),
    ("verse:\n| D | A «|:»", "opened and never closed", "expected :|"),
    ("a:\n«|:» D |\nb:\n| A :|", "opened and never closed", "expected :|"),
    ("verse:\n|: D | A\n«|:» G :|", "inside the one opened in line 2", "do not nest"),
    ("verse:\n«:|» D |", "end of a repeat before any bar", "|: D | A :|"),
    ("verse:\n| D |: «:|» A |", "a repeat with nothing in it", "|: D | A :|"),
    ("verse:\n| D :| «:|» A |", "a repeat that ends twice", ":| x3"),
    ("verse:\n| D :| «x1» | A |", "a repeat 1 times", "x2 to x64"),
    ("verse:\n| D :| «x99» | A |", "a repeat 99 times", "x2 to x64"),
    ("verse:\n| D | «x3» |", "cannot read the chord 'x3'", "after the end of a repeat, as :| x3"),
    ("verse:\n| D |1. «A» |3. G |", "the ending 1. belongs to no repeat", "|1. A :|2. D |"),
    ("verse:\n|: D |1. A :| G |2. «E» |", "the ending 2. belongs to no repeat", "|2. D |"),
    ("verse:\n|: D |1. A :|1. «G» |", "pass 1 has two endings", "|2."),
    ("verse:\n|: D |1,2. A :|2. «G» |", "pass 2 has two endings", "|3."),
    ("verse:\n|: D |1. «A» :|3. G |", "pass 2 of 3 has no ending", "|2."),
    ("verse:\n|: D |1. «A» :|2. G :| x3 |", "pass 3 of 3 has no ending", "|3."),
    ("verse:\n|: D «|1,1.» A :|", "cannot read the ending 1,1.", "different passes"),
    ("verse:\n|: D «|0.» A :|", "cannot read the ending 0.", "from 1 to 64"),
    ("verse:\n|: D |1. «:|» A |", "an ending with nothing in it", "|1. A :|2. D |"),
    ("verse:\n|: D |1. A «:|2.»", "an ending with nothing in it", "|1. A :|2. D |"),
    ("verse:\n|: D «|1. |» A :|", "bar with nothing in it", "N.C."),
    ("verse:\n|: D | «1.» A :|", "cannot read the chord '1.'", "right after its bar line, as |1."),
    # Chords.
    ("verse:\n| D | «Cmjor7» |", "cannot read the chord 'Cmjor7'", "nearest: Cmaj7"),
    ("verse:\n| «am7» |", "cannot read the chord 'am7'", "nearest: Am7"),
    ("verse:\n| «am7/g» |", "cannot read the chord", "nearest: Am7/G"),
    ("verse:\n| «H7» |", "cannot read the chord", "a letter from A to G"),
    ("verse:\n| D | «<Cmjor7» |", "cannot read the chord 'Cmjor7'", "nearest: Cmaj7"),
    ("verse:\n| «C/H» |", "cannot read the chord", "the note H is written B: C/B"),
    ("verse:\n| «C/Gm» |", "cannot read the chord", "not a bass note: Gm"),
    ("verse:\n| «D/» |", "cannot read the chord", "right after its slash"),
    ("verse:\n| D «maj7» | A |", "cannot read the chord 'maj7'", "write Dmaj7 as one word"),
    ("verse:\n|: <A «m» :|", "cannot read the chord 'm'", "write Am as one word"),
    ("verse:\n| D |\n|«--------»|\n|-5--|", "without the name of its string", "G |--------|"),
    ("verse:\n| D |\n|«-5h7~---»|", "without the name of its string", "G |-5h7~---|"),
    ("verse:\n| D | «6-» |", "cannot read the chord '6-'", "chords: numbers"),
    ("verse:\n| «V7/V» |", "cannot read the chord", "chords: numbers"),
    # Numbers.
    ("key: D\nchords: numbers\nverse:\n| 1 | «Em7/B» |", "chord 'Em7/B'", "nearest: 2-7/6"),
    ("key: D\nchords: numbers\nverse:\n| «Cmaj7» |", "chord 'Cmaj7'", "nearest: b7maj7"),
    ("key: D\nchords: numbers\nverse:\n| «8» |", "chord '8'", "degrees (1, 6-, 5/7)"),
    ("key: D\nchords: numbers\nverse:\n| «V7/x» |", "chord 'V7/x'", "not a chord quality"),
]


def refused(text: str) -> ChartError:
    with pytest.raises(ChartError) as caught:
        parse_chart(text, source="planted.txt")
    return caught.value


@pytest.mark.parametrize(("marked", "message", "hint"), PLANTED)
def test_a_planted_mistake_is_found_at_its_place(marked: str, message: str, hint: str) -> None:
    before, found, _ = marked.replace("»", "«").split("«")
    error = refused(marked.replace("«", "").replace("»", ""))
    line, column = before.count("\n") + 1, len(before.rpartition("\n")[2]) + 1
    assert (error.place.line, error.place.column) == (line, column)
    assert error.place.length == len(found)
    assert message in error.message
    assert hint in error.hint


@given(
    st.sampled_from([Meter(*map(int, text.split("/"))) for text in METERS]),
    st.lists(known_symbols | st.just("/"), min_size=1, max_size=12),
)
@settings(derandomize=True, deadline=None, max_examples=60)
def test_the_bars_of_a_hint_are_read_and_have_every_chord(meter: Meter, words: list[str]) -> None:
    head = f"meter: {meter}\nverse:\n| N.C. "
    try:
        parse_chart(f"{head}| {' '.join(words)} |")
    except ChartError as error:
        shown = error.hint.rpartition(": ")[2]
        if shown.endswith("…"):
            return
        (section,) = parse_chart(head + shown).sections
        found = [span.written for bar in section.bars[1:] for span in bar.chords]
        kept = [word for n, word in enumerate(found) if n == 0 or word != found[n - 1]]
        wanted = [word for word in words if word != "/"]
        wanted = ["N.C.", *wanted] if words[0] == "/" else wanted
        assert kept == [word for n, word in enumerate(wanted) if n == 0 or word != wanted[n - 1]]


def test_there_are_many_planted_mistakes() -> None:
    assert len(PLANTED) >= 95


def test_an_error_is_shown_with_its_line_and_a_caret() -> None:
    assert refused("verse:\n  | D | Cmjor7 | A |").report() == (
        "planted.txt:2:9: cannot read the chord 'Cmjor7'\n"
        "      | D | Cmjor7 | A |\n"
        "            ^^^^^^\n"
        "  not a chord quality: mjor7; nearest: Cmaj7"
    )


@pytest.mark.parametrize("text", ["", "\n", "# a remark\n", "title: A\ntempo: 84\n", " \t\r\n"])
def test_a_chart_without_bars_is_refused(text: str) -> None:
    error = refused(text)
    assert "no bars in this chart" in error.message
    assert (error.place.line, error.place.column) == (1, 1)


def test_an_error_in_a_long_line_is_shown_in_part() -> None:
    error = refused("verse:\n" + "| D " * 500 + "| Cmjor7 " + "| D " * 500)
    lines = error.report().split("\n")
    assert error.place.column == 2003
    assert len(lines[1]) <= 104
    caret = lines[2].index("^")
    assert lines[1][caret : caret + 6] == "Cmjor7"
    assert lines[2].strip() == "^" * 6


def test_the_names_of_feels_and_cells_keep_their_places() -> None:
    song = parse_chart("verse:\n  feel:   slow  burn\n| D |")
    feel = song.sections[0].settings.feel
    assert feel is not None
    assert (feel.name, feel.place.line, feel.place.column) == ("slow burn", 2, 11)


@pytest.mark.parametrize(
    ("text", "others"),
    [
        ("verse:\n| G | Cmaj8 | Zb | Dmjj7 |\n| A | <Hm |", "Zb (2:15), Dmjj7 (2:20), <Hm (3:7)"),
        ("key: D\nchords: numbers\nverse:\n| 1 | 9 | 4 | 88 |", "88 (4:15)"),
        ("verse:\n| Q | D |\n| (4/4) | % |\n| X |", ""),  # the second mistake is of another kind
    ],
)
def test_words_that_are_no_chords_are_told_in_one_go(text: str, others: str) -> None:
    """So that a chart copied from somewhere is mended at once; columns counted by hand."""
    error = refused(text)
    told = error.hint.partition("no chords either: ")[2]
    assert told == others


def test_a_form_is_mended_as_its_hint_says() -> None:
    """What the hint shows reads, and plays the sections in the order that they stood in."""
    bars = "verse:\n| D |\nchorus 2:\n| G |\n"
    error = refused(f"{bars}form: verse x2 chorus 2 - verse")
    mended = error.hint.partition("a name: ")[2]
    song = parse_chart(f"{bars}form: {mended}")
    played = [(entry.section, entry.times) for entry in song.form]
    assert played == [("verse", 2), ("chorus 2", 1), ("verse", 1)]


def test_a_section_that_the_form_never_plays_is_told() -> None:
    bars = "verse:\n| D |\nchorus:\n| G |\n"
    assert notice_texts(parse_chart(f"{bars}form: verse").notices) == [
        "chorus (line 3) is played nowhere: form: leaves it out",
    ]
    assert parse_chart(f"{bars}form: verse, chorus").notices == parse_chart(bars).notices == ()
