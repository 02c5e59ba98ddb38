"""The shipped feels against the players' rules.  All of these are common practice, no source."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from math import lcm

import pytest

from groove.cells.model import Aim, AimKind, BassBar, BassCell, DrumCell, Library
from tests.cells.cell_lines import (
    FEELS,
    DrumBar,
    bass_bars,
    drum_bars,
    feel_drums,
    phrase_end,
    sounding_feels,
    sounding_starts,
    starts,
)

# Semitones of degrees over a major chord with the minor seventh.
MAJOR = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 8: 12, 9: 14, 10: 16}


def test_every_feel_is_there_with_all_its_cells(library: Library) -> None:
    assert len(set(FEELS)) == 31
    assert set(library.feels) == set(FEELS)
    lacking = []
    for feel in sounding_feels(library):
        bass, drums = library.bass[feel.bass], library.drums[feel.drums]
        keys = library.keys[feel.keys]
        if not (drums.bars and phrase_end(drums) and drums.fills and (keys.bars or keys.generator)):
            lacking.append(feel.name)
        if not bass.generator and not (bass.bars and phrase_end(bass)):
            lacking.append(feel.name)
    assert lacking == []


def test_long_notes_and_walking_are_generated(library: Library) -> None:
    made = {cell.name: cell.generator for cell in library.bass.values() if cell.generator}
    assert made == {"long notes": "long", "walking": "walking"}
    assert library.feels["long notes"].meter is None
    assert library.drums[library.feels["long notes"].drums].bars == ()
    assert library.keys[library.feels["long notes"].keys].generator == "held"


def test_bass_cells_that_a_chart_can_name_on_its_own(library: Library) -> None:
    own = set(library.bass) - {feel.bass for feel in library.feels.values()}
    assert {"octave fifth root", "root fifth ninth octave", "pedal", "off-beats"} <= own
    assert sum(len(library.bass[name].bars) == 2 for name in own) >= 2
    meters = {str(library.bass[name].meter) for name in own}
    assert meters == {"4/4", "3/4", "6/8", "12/8"}
    assert len(own) == 10


@pytest.mark.parametrize(
    ("feel", "meter", "tempo", "length_percents"),
    [
        ("straight eighths", "4/4", (96, 168), (85, 95)),
        ("half-time", "4/4", (120, 168), (80, 95)),
        ("sixteenths", "4/4", (72, 104), (60, 80)),
        ("broken sixteenths", "4/4", (88, 112), (50, 70)),
        ("octaves", "4/4", (108, 128), (65, 85)),
        ("soul", "4/4", (92, 126), (80, 90)),
        ("ballad", "4/4", (56, 84), (95, 95)),
        ("shuffle", "4/4", (96, 144), (75, 90)),
        ("slow twelve-eight", "12/8", (48, 72), (92, 92)),
        ("walking", "4/4", (100, 220), (92, 100)),
        ("one drop", "4/4", (64, 84), (60, 80)),
        ("bossa", "4/4", (112, 152), (85, 85)),
        ("tumbao", "4/4", (160, 208), (92, 92)),
        ("two-beat", "4/4", (84, 132), (80, 80)),
        ("waltz", "3/4", (84, 190), (92, 92)),
        ("six-eight", "6/8", (52, 76), (92, 92)),
        ("five-four", "5/4", (92, 160), (85, 85)),
        ("seven-eight", "7/8", (104, 160), (80, 80)),
    ],
)
def test_tempo_and_length_are_usual_for_the_style(
    library: Library,
    feel: str,
    meter: str,
    tempo: tuple[int, int],
    length_percents: tuple[int, int],
) -> None:
    found = library.feels[feel]
    assert (str(found.meter), found.tempo_beats) == (meter, tempo)
    assert length_percents[0] <= found.length_percent <= length_percents[1]


def test_swing_of_the_feels(library: Library) -> None:
    swung = {feel.name: str(feel.swing) for feel in library.feels.values() if feel.swing}
    assert swung == {
        "sixteenths": "53% sixteenths",
        "broken sixteenths": "53% sixteenths",
        "one drop": "55% sixteenths",
        "walking": "by tempo eighths",
        "jazz waltz": "by tempo eighths",
        "swing in two": "by tempo eighths",
        "one-chord funk": "54% sixteenths",
        "laid-back sixteenths": "58% sixteenths",
        "second line": "57% sixteenths",
    }


def test_feels_without_a_section_crash(library: Library) -> None:
    """Common practice, no source: the quiet, the Latin, walking, and the one without drums."""
    without = {feel.name for feel in library.feels.values() if not feel.crash}
    jazz, latin = {"walking", "swing in two", "jazz waltz"}, {"samba", "bolero", "cha-cha"}
    assert without == {"one drop", "bossa", "tumbao", "long notes"} | jazz | latin


def test_soft_feels_are_25_to_30_lower(library: Library) -> None:
    soft = {feel.name for feel in library.feels.values() if 25 <= feel.softer_by <= 30}
    jazz = {"walking", "swing in two", "jazz waltz"}
    assert soft == {"ballad", "bossa", "bolero", "long notes"} | jazz


def bars_together(bass: BassCell, drums: DrumCell) -> Iterator[tuple[set[Fraction], DrumBar]]:
    """Yield where the bass strikes and what the drums play, under every condition of either."""
    if bass.generator == "walking":
        assert drums.meter is not None
        walked = {Fraction(beat) for beat in range(drums.meter.pulse_count)}
        yield from ((walked, bar) for bar in drum_bars(drums))
        return
    for name in dict.fromkeys(["", *dict(bass.when), *dict(drums.when)]):
        lines = dict(bass.when).get(name, bass.bars)
        beats = dict(drums.when).get(name, drums.bars)
        for index in range(lcm(len(lines), len(beats))):
            yield sounding_starts(lines[index % len(lines)]), beats[index % len(beats)]


def test_seven_kicks_of_ten_have_a_bass_stroke(library: Library) -> None:
    """In every bar of the cell, over all bars that cell and drums make together."""
    compared, kicks_seen = 0, 0
    for feel in sounding_feels(library):
        for drums, _ in feel_drums(library, feel):
            for struck, bar in bars_together(library.bass[feel.bass], drums):
                kicks = starts(bar, "kick", "low_kick")
                kicks_seen += len(kicks)
                assert len(kicks & struck) * 10 >= len(kicks) * 7, (feel.name, drums.name)
                compared += 1
    # 31 drum cells, each under four conditions or more, mostly of two bars.
    assert compared > 180
    assert kicks_seen > 300


def test_ghosts_lie_off_the_beat_in_twos_at_most_and_never_first(library: Library) -> None:
    ghosts = 0
    for cell in library.bass.values():
        for bar in bass_bars(cell):
            are = [s.aim.kind is AimKind.GHOST for s in bar.strokes]
            ghosts += sum(are)
            assert not are[0], cell.name
            assert not any(all(three) for three in zip(are, are[1:], are[2:], strict=False))
            for stroke, is_ghost in zip(bar.strokes, are, strict=True):
                assert not is_ghost or stroke.start_beats.denominator > 1, cell.name
                assert not is_ghost or stroke.level in (2, 3, 4), cell.name
    assert ghosts >= 27


def test_ghost_share_of_the_sixteenth_feels_and_none_elsewhere(library: Library) -> None:
    shares = {}
    for name in FEELS:
        bars = library.bass[library.feels[name].bass].bars
        kinds = [stroke.aim.kind for bar in bars for stroke in bar.strokes]
        if AimKind.GHOST in kinds:
            shares[name] = kinds.count(AimKind.GHOST) / len(kinds)
    sixteenths = {"sixteenths", "broken sixteenths", "laid-back sixteenths", "one-chord funk"}
    assert set(shares) == {*sixteenths, "half-time shuffle"}
    assert [share for share in shares.values() if not 0.10 <= share <= 0.30] == []


def semitones(aim: Aim) -> int | None:
    """Return a step in semitones over the root of a chord that holds; None for a ghost."""
    if aim.kind is AimKind.GHOST:
        return None
    if aim.kind is AimKind.NEXT:
        return MAJOR[5] if aim.offset is None else 0
    return MAJOR[aim.number] + aim.alter + 12 * aim.octaves


def test_no_leap_over_an_octave_while_a_chord_holds(library: Library) -> None:
    leaps = 0
    for cell in library.bass.values():
        line = [semitones(s.aim) for bar in (*cell.bars, *bass_bars(cell)) for s in bar.strokes]
        pitches = [pitch for pitch in line if pitch is not None]
        for before, after in pairwise(pitches):
            assert abs(after - before) <= 12, cell.name
            leaps += 1
    assert leaps > 300


def test_a_step_into_the_next_chord_comes_late(library: Library) -> None:
    """An approach of a half or whole step lies in the last beat, or in a walk of two beats."""
    approaches = 0
    for cell in library.bass.values():
        for bar in bass_bars(cell):
            assert cell.meter is not None
            for stroke in bar.strokes:
                if stroke.aim.kind is AimKind.NEXT and stroke.aim.offset != 0:
                    assert stroke.start_beats >= cell.meter.pulse_count - 2, cell.name
                    approaches += 1
    assert approaches > 20


def test_phrase_end_varies_by_two_strokes_at_most(library: Library) -> None:
    """So that the rhythm stays the hook."""
    most = {}
    for cell in library.bass.values():
        for end in phrase_end(cell):
            changes = [
                len({s.start_beats for s in bar.strokes} ^ {s.start_beats for s in end.strokes})
                for bar in cell.bars
            ]
            most[cell.name] = min(changes)
    assert {name: count for name, count in most.items() if count > 2} == {}
    assert len(most) >= 29, "a feel with steps has one"


HOOKS = sorted(set(FEELS) - {"long notes", "walking", "jazz waltz", "shuffle", "slow twelve-eight"})


def rhythm(bar: BassBar, until: int) -> list[tuple[Fraction, bool]]:
    """Return where a bar is struck before a beat, and whether by a ghost."""
    return [
        (stroke.start_beats, stroke.aim.kind is AimKind.GHOST)
        for stroke in bar.strokes
        if stroke.start_beats < until
    ]


def test_an_answer_keeps_the_rhythm_of_the_hook_but_for_its_last_beat(library: Library) -> None:
    """In 7/8 the last group of three is the last beat.  The waltz walks into its answer.

    One drop leaves beat 1 of its second bar to the air.
    """
    compared = 0
    for name in HOOKS:
        cell = library.bass[library.feels[name].bass]
        assert cell.meter is not None and len(cell.bars) == 2, name
        last_beat = 4 if name == "seven-eight" else cell.meter.pulse_count - 1
        first, answer = (rhythm(bar, last_beat) for bar in cell.bars)
        if name == "one drop":
            assert first[1:] == answer, name
        else:
            assert first == answer, name
        assert cell.bars[0] != cell.bars[1], name
        compared += 1
    assert compared == 26


def weight(bars: tuple[BassBar, ...]) -> tuple[float, ...]:
    """Return how many notes some bars have, how many of them an octave up, and how long all are."""
    notes = [s for bar in bars for s in bar.strokes if s.aim.kind is not AimKind.GHOST]
    high = sum(note.aim.number in (8, 9, 10) for note in notes)
    return len(notes), high, float(sum(note.length_beats for note in notes))


def test_every_groove_feel_has_a_chorus_and_a_last_chorus_that_lift(library: Library) -> None:
    """It is heard to lift: there are more notes each time, or higher or longer ones."""
    compared = 0
    for name in HOOKS:
        cell = library.bass[library.feels[name].bass]
        when = dict(cell.when)
        growing = [weight(bars) for bars in (cell.bars, when["chorus"], when["last chorus"])]
        for before, after in pairwise(growing):
            assert any(new > old for old, new in zip(before, after, strict=True)), name
            compared += 1
    assert compared == 52


def test_beat_1_is_the_strongest_stroke_of_its_bar(library: Library) -> None:
    compared = 0
    for cell in library.bass.values():
        for bar in bass_bars(cell):
            if bar.strokes[0].start_beats == 0:
                assert bar.strokes[0].level == max(s.level for s in bar.strokes), cell.name
                compared += 1
    assert compared > 35
