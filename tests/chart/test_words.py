"""Words to the band, jumps, the end, cues, dynamics, pushes by value, sections like another.

The orders of jumps are those of any book of rudiments (dal segno, da capo, al coda, al fine; after
a jump repeats are not taken: common practice); other figures are worked by hand.
"""

from fractions import Fraction

import pytest

from groove.arrange.dynamics import level_offset
from groove.cells.model import Library
from groove.chart.form import unroll
from groove.chart.model import (
    BeatPoint,
    Density,
    Directions,
    Dynamics,
    Loudness,
    Swell,
    Vary,
)
from groove.chart.parse import parse_chart
from groove.chart.push import Push
from groove.chart.tempo_map import song_tempo_map
from groove.chart.write import write_chart
from groove.errors import ChartError
from groove.events import Part
from groove.pipeline import PerformOptions, perform_chart
from groove.text.notices import notice_texts
from groove.timing import microseconds_to_qpm


def played(text: str) -> str:
    """Return the chords of a chart as played."""
    song = parse_chart(text)
    assert parse_chart(write_chart(song)) == song
    return " ".join(bar.chords[0].symbol for bar in unroll(song))


def directions(bar: str) -> Directions:
    """Return the directions of one bar."""
    return parse_chart(f"a:\n| {bar} |").sections[0].bars[0].directions


def test_words_are_values_on_the_bar() -> None:
    wanted = {
        "(hits 1 2+ 4+) D": Directions(hits=(BeatPoint(1), BeatPoint(2, True), BeatPoint(4, True))),
        "(kicks 2+) D": Directions(kicks=(BeatPoint(2, True),)),
        "(Fill) D": Directions(fill=True),
        "(no fill) D": Directions(fill=False),
        "(MF) (cresc.) D": Directions(dynamic=Loudness.MF, swell=Swell.CRESCENDO),
        "(dim) D": Directions(swell=Swell.DIMINUENDO),
        "(thin) D": Directions(density=Density.THIN),
        "(build) D": Directions(density=Density.BUILD),
        "(ritard) D": Directions(has_ritard=True),
        "(rit.) (tag x3) (hit) D": Directions(has_ritard=True, tag=3, has_hit=True),
    }
    for bar, expected in wanted.items():
        assert directions(bar) == expected, bar
    assert len(wanted) == 10
    feel = directions("(feel  one drop) D").feel
    assert feel is not None and feel.name == "one drop"


JUMPS = [
    ("| (segno) A | B | (D.S.) C |", "A B C A B C"),
    ("| A | (fine) B | (D.C. al fine) C |", "A B C A B"),
    ("| A | (segno) B | (to coda) C | (D.S. al coda) D | (coda) E |", "A B C D B C E"),
    ("| A | (to coda) B | (dc al coda) C | (coda) D | E |", "A B C A B D E"),
    ("|: A :| |: B |1. C :|2. D | (D.C.) E |", "A A B C B D E A B D E"),
    ("| A | (to coda) B |\nb:\n| (D.C. al coda) C |\nend:\n| (coda) D |", "A B C A B D"),
    ("| A |\nb:\n|: (segno) B | (fine) C :|\nc:\n| (D.S. al Fine) D |", "A B C B C D B C"),
]


def test_jumps_are_taken_once_and_repeats_not_after_them() -> None:
    for bars, order in JUMPS:
        assert played(f"a:\n{bars}\n") == order, bars
    assert len(JUMPS) == 7


def test_a_jump_begins_another_time_of_its_section() -> None:
    bars = unroll(parse_chart("a:\n| A |\nb:\n| (fine) B |\nc:\n| (D.C. al fine) C |"))
    found = [(bar.ref.section, bar.ref.occurrence, bar.ref.bar_in_section) for bar in bars]
    assert found == [("a", 1, 1), ("b", 1, 1), ("c", 1, 1), ("a", 2, 1), ("b", 2, 1)]
    assert [bar.place.is_last_time for bar in bars] == [False, False, True, True, True]


def test_a_tag_plays_the_end_again_and_only_the_last_time() -> None:
    text = "a:\n| A | (tag x3) B | C |\nform: a x2\n"
    assert played(text) == "A B C A B C B C B C"
    bars = unroll(parse_chart(text))
    assert [bar.directions.tag for bar in bars] == [0] * 8 + [3, 0]
    assert [bar.ref.bar_in_section for bar in bars][-7:] == [1, 2, 3, 4, 5, 6, 7]


def test_a_ritard_comes_down_to_seventy_percent_by_the_last_bar() -> None:
    song = parse_chart("tempo: 100\na:\n| A | (ritard) B | C |\nform: a x2\n")
    changes = song_tempo_map(song, unroll(song), scale=Fraction(1)).changes
    told = [(change.tick, round(microseconds_to_qpm(change.microseconds), 1)) for change in changes]
    beat = 960
    assert told == [
        (0, 100.0),
        (17 * beat, 92.5),
        (18 * beat, 85.0),
        (19 * beat, 77.5),
        (20 * beat, 70.0),
    ]


def test_a_ritard_begins_from_the_tempo_that_was_come_to() -> None:
    # 120 down to 80 in two bars (five a beat), then 70 % by the last bar: common practice, no
    # source.
    song = parse_chart("a:\ntempo: 120 to 80\n| A | (ritard) B |\n")
    changes = song_tempo_map(song, unroll(song), scale=Fraction(1)).changes
    told = [round(microseconds_to_qpm(change.microseconds), 1) for change in changes]
    assert told[:4] == [120, 115, 110, 105]
    shares = (1, 0.925, 0.85, 0.775)
    assert told[4:] == [
        round(tempo * share, 1) for tempo, share in zip((100, 95, 90, 85), shares, strict=True)
    ]


def test_dynamics_hold_and_move() -> None:
    def levels(bars: str, head: str = "") -> list[str]:
        return [str(bar.level) for bar in unroll(parse_chart(f"a:\n{head}\n{bars}\n"))]

    # pp 0, p 1, mp 2, mf 3, f 4, ff 5
    assert levels("| A | B | C |") == ["None"] * 3
    assert levels("| A | B | C |", "dynamics: p") == ["1"] * 3
    assert levels("| A | B | C | D |", "loudness: p to f") == ["1", "2", "3", "4"]
    assert levels("| A | (ff) B | C |", "dynamics: p") == ["1", "5", "5"]
    assert levels("| (p) (cresc) A | B | (f) C | D |") == ["1", "5/2", "4", "4"]
    assert levels("| (cresc) A | B | C |") == ["3", "7/2", "4"]
    assert levels("| (ff) (dim) A | B | (p) C |") == ["5", "3", "1"]
    assert levels("| A |", "dynamics: p\npickup: 1") == ["1", "1"]
    assert levels("|: A | (f) B :|") == ["None", "4", "4", "4"]


def test_dynamics_are_heard(library: Library) -> None:
    text = "key: C\na:\n  feel: straight eighths\n  dynamics: pp to ff\n  | C | C | C | C |\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    first = [n.velocity for n in performance.part_notes(Part.BASS) if n.grid_tick % 3840 == 0]
    assert len(first) == 4 and first == sorted(first) and first[-1] - first[0] >= 40


def test_a_feel_in_a_bar_holds_to_the_sections_end(library: Library) -> None:
    text = "key: C\na:\n  feel: ballad\n  | C | (feel shuffle) C | C |\nb:\n  feel: ballad\n  | C |"
    performance = perform_chart(text, library)
    assert [bar.feel for bar in performance.bars] == ["ballad", "shuffle", "shuffle", "ballad"]
    with pytest.raises(ChartError) as caught:
        perform_chart(text.replace("shuffle", "shufle"), library)
    assert (caught.value.place.line, caught.value.place.column) == (4, 9)


def test_the_bass_has_the_tone_that_is_asked_for(library: Library) -> None:
    """Electric Bass (pick) is program 35 from one, 34 from zero (General MIDI level 1)."""
    performance = perform_chart("bass tone: pick\na:\n| C |", library)
    assert dict(performance.programs)[Part.BASS] == 34


def test_cues_stand_over_the_next_bar() -> None:
    song = parse_chart("a:\n| A | B |\ncue: drums only\nCue: then: stop\n| C | D |\n")
    assert [bar.cues for bar in song.sections[0].bars] == [
        (), (), ("drums only", "then: stop"), (),
    ]  # fmt: skip
    assert parse_chart(write_chart(song)) == song
    assert [bar.cues for bar in unroll(song)][2] == ("drums only", "then: stop")


def test_pushes_have_a_value() -> None:
    (section,) = parse_chart("a:\n| A <B | 16<C 8.<D | 8<E | 4<F |").sections
    found = [[span.push for span in bar.chords] for bar in section.bars]
    assert found == [
        [None, Push.EIGHTH],
        [Push.SIXTEENTH, Push.DOTTED_EIGHTH],
        [Push.EIGHTH],
        [Push.QUARTER],
    ]


def test_a_push_sounds_as_early_as_its_value(library: Library) -> None:
    text = "key: C\nfeel: long notes\na:\n| C | 16<F | 8.<G | 4<C | <F | C |\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    ticks = [note.grid_tick for note in performance.part_notes(Part.BASS)]
    bar = 4 * 960
    assert ticks[:5] == [0, bar - 240, 2 * bar - 720, 3 * bar - 960, 4 * bar - 480]


def test_a_doubled_sign_is_read_once_more_and_told() -> None:
    song = parse_chart("a:\n| A | <<B | <<C |")
    assert [span.push for bar in song.sections[0].bars for span in bar.chords][1:] == [
        Push.SIXTEENTH,
        Push.SIXTEENTH,
    ]
    assert notice_texts(song.notices) == ["line 2: <<B is now written 16<B"]
    assert "<<" not in write_chart(song)


def test_a_bar_line_is_no_ending_before_a_push() -> None:
    assert played("chords: numbers\nkey: C\na:\n| 1 |8.<4 |4<5 |1 4|") == "C F G C"
    assert played("a:\n|: A |1.2. B :|3. C |") == "A B A B A C"
    assert played("a:\n|: A |1. B |2. C ||") == "A B A C"
    assert played("a:\n| A |1,2. B |3. C |\nb:\n| D |") == "A B A B A C D"


def test_a_section_is_like_another_but_for_some_bars() -> None:
    song = parse_chart(
        "a:\n  feel: ballad\n  key: D\n  |: D | (3/4) G | % :|\nb:\n  as: A\n  key: G\n"
        "  bar 2: | (stop) C / / |\n  bass | R 5 . |\n"
    )
    first, second = song.sections
    assert [bar.chords[0].symbol for bar in second.bars] == ["D", "C", "C"]
    assert [str(bar.meter) for bar in second.bars] == ["4/4", "3/4", "3/4"]
    assert second.settings.feel == first.settings.feel
    assert (second.like, second.changed) == ("a", (2,))
    assert (second.bars[0].opens_repeat, second.bars[2].closes_repeat) == (True, True)
    assert [bar.number for bar in second.bars] == [4, 5, 6]
    assert second.bars[1].line is not None
    assert parse_chart(write_chart(song)) == song


def test_vary_is_kept() -> None:
    song = parse_chart("vary: some\na:\nvary: None\n| A |")
    assert song.settings.vary is Vary.SOME
    assert song.sections[0].settings.vary is Vary.NONE
    assert notice_texts(song.notices) == []
    assert parse_chart("dynamics: p to ff\na:\n|A|").settings.dynamics == Dynamics(
        Loudness.P, Loudness.FF
    )


FAULTS = [
    ("a:\n| D |\n«feel»: waltz\n", "feel stands after the bars of a"),
    ("a:\n| «(hits)» D |", "no such word to the band: '(hits)'"),
    ("a:\n| «(hits 5)» D |", "found beat 5 in a bar of 4/4"),
    ("a:\n| (hits 1) «(stop)» D |", "found a second (stop)"),
    ("a:\n| (p) «(f)» D |", "found a second (f)"),
    ("a:\n| «(tag x1)» D |", "cannot play the end 1 times"),
    ("a:\n| «(tag» x3) D |\nb:\n| A |", "found a word of the song's end before its end"),
    ("a:\n| «(ritard)» D |\nb:\n| A |", "found a word of the song's end before its end"),
    ("a:\n| «(segno)» D | (D.S.) A |\nform: a\n", "found a jump in a chart that has a form:"),
    ("a:\n| A | «(D.S.)» D |", "found (D.S.) and no (segno)"),
    ("a:\n| A | «(D.C.» al coda) D |", "found (D.C. al coda) and no (to coda)"),
    ("a:\n| A | «(D.C.» al fine) D |", "found (D.C. al fine) and no (fine)"),
    ("a:\n| «(coda)» D |", "found a mark that no jump goes to"),
    ("a:\n| (D.C.) A | «(D.C.)» D |", "found a second one of its kind"),
    ("a:\n| A |\ncue: «stop»\n", "found a cue with no bar after it"),
    ("dynamics: «loud»\na:\n| A |", "cannot read dynamics 'loud'"),
    ("bass tone: «fingr»\na:\n| A |", "cannot read bass tone 'fingr'"),
    ("a:\n| A B C «4<D» |", "the push of 4<D is as long as the chord before"),
    ("a:\n| A | «16<%» |", "cannot push '16<%'"),
    ("a:\nas: «b»\nb:\n| A |", "no section above with bars of its own: 'b'"),
    ("a:\n| A |\nb:\nas: a\n«| B |»", "the section 'b' has bars beside  as: a"),
    ("a:\n| A |\nb:\nas: a\n«bar 2»: | B |", "a has no bar 2"),
    ("a:\n| A |\nb:\nas: a\nbar 1: «| B | C |»", "found no single bar here"),
    ("a:\n| A |\n«bar 1»: | B |", "found a bar by its number in a section of its own bars"),
    ("a:\n| A |\n«bar 1:»\n| B |", "bar 1 is a bar's number and no section"),
    ("a:\n| A |\nb:\nas: a\nbar 1: | B |\n«bar 1»: | C |", "bar 1 is given twice, first in line 5"),
]


@pytest.mark.parametrize(("marked", "message"), FAULTS)
def test_what_is_wrong_is_told_at_its_place(marked: str, message: str) -> None:
    start, end = marked.index("«"), marked.index("»") - 1
    text = marked.replace("«", "").replace("»", "")
    with pytest.raises(ChartError) as caught:
        parse_chart(text)
    place = caught.value.place
    line = text[:start].count("\n") + 1
    column = start - text.rfind("\n", 0, start)
    assert caught.value.message == message or caught.value.message.startswith(message)
    assert (place.line, place.column) == (line, column)
    assert end > start and caught.value.hint


def test_a_bar_that_holds_a_changed_chord_over_is_written_as_changed() -> None:
    song = parse_chart("a:\n| A | / / B / |\nb:\nas: a\nbar 1: | C |\n")
    assert [span.symbol for span in song.sections[1].bars[1].chords] == ["C", "B"]
    assert song.sections[1].changed == (1, 2)
    assert parse_chart(write_chart(song)) == song


def test_a_level_between_two_dynamics_lies_between_their_velocities() -> None:
    """Common practice, no source: half way from one dynamic to the next is half its difference."""
    for below in range(5):
        low, high = level_offset(Fraction(below)), level_offset(Fraction(below + 1))
        assert level_offset(Fraction(2 * below + 1, 2)) == round(Fraction(low + high, 2))
        assert low < high
