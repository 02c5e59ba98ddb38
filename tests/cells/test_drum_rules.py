"""The shipped drum cells against the players' rules.  All are common practice, no source."""

from fractions import Fraction
from itertools import pairwise

from groove.arrange.levels import level_velocity
from groove.cells.model import DrumStroke, Feel, Library
from tests.cells.cell_lines import (
    FEET,
    STICK,
    DrumBar,
    beat_sec,
    drum_bars,
    feel_drums,
    sounding_feels,
    starts,
    time_drums,
)

TOMS_DOWN = (
    *("snare", "high_timbale", "high_tom", "mid_tom"),
    *("low_timbale", "low_tom", "floor_tom"),
)


def test_no_third_hand_and_one_stick_on_the_time(library: Library) -> None:
    slots = 0
    for cell in time_drums(library):
        for bar in (*drum_bars(cell), *(fill.strokes for fill in cell.fills)):
            for start in {stroke.start_beats for stroke in bar}:
                struck = {s.key for s in bar if s.start_beats == start}
                assert len(struck - FEET) <= 2, (cell.name, start, struck)
                assert len(struck & STICK) <= 1, (cell.name, start, struck)
                slots += 1
    assert slots > 300


def hat_strokes(bars: list[DrumBar]) -> list[str]:
    """Return the hat's strokes in order through some bars."""
    return [
        stroke.key
        for bar in bars
        for stroke in sorted(bar, key=lambda s: s.start_beats)
        if stroke.key in ("hat", "open_hat", "pedal_hat")
    ]


def test_an_open_hat_is_closed_by_the_next_stroke(library: Library) -> None:
    opened = 0
    for cell in time_drums(library):
        whens = [(*cell.bars, *bars, *cell.bars) for _, bars in cell.when]
        for now, then in pairwise(hat_strokes([bar for bars in whens for bar in bars])):
            if now == "open_hat":
                assert then in ("hat", "pedal_hat"), cell.name
                opened += 1
    assert opened > 16


def stick_gaps_beats(bars: tuple[DrumBar, ...], bar_beats: int) -> list[Fraction]:
    """Return the beats between strokes of the stick on hat or ride, bar lines crossed."""
    places = sorted(
        index * bar_beats + start
        for index, bar in enumerate((*bars, bars[0]))
        for start in starts(bar, *STICK)
    )
    return [after - before for before, after in pairwise(places)]


def test_one_stick_can_play_the_time_at_the_top_tempo(library: Library) -> None:
    """No stroke of one stick within 100 ms of the one before.

    About the short note that ride players hold to when fast: A. Friberg and A. Sundström, Music
    Perception 19(3), 2002.  At the top tempo of walking, that is where the swing takes it.
    """
    compared = 0
    for feel in sounding_feels(library):
        assert feel.meter is not None
        for cell, tempo_bpm in feel_drums(library, feel):
            every = [cell.bars, *(bars for _, bars in cell.when)]
            gaps = [g for bars in every for g in stick_gaps_beats(bars, feel.meter.pulse_count)]
            if gaps:
                assert float(min(gaps)) * beat_sec(feel, tempo_bpm) >= 0.100, cell.name
                compared += 1
    assert compared == 27, "all but two-beat, tumbao, cha-cha and second line: no hat or ride"


def test_hats_in_sixteenths_end_at_100(library: Library) -> None:
    fast = []
    for feel in sounding_feels(library):
        for cell, tempo_bpm in feel_drums(library, feel):
            assert feel.meter is not None
            if Fraction(1, 4) in stick_gaps_beats(cell.bars, feel.meter.pulse_count):
                fast.append((cell.name, tempo_bpm))
    assert fast == [("broken sixteenths", 100), ("laid-back sixteenths", 92)]


FEW_FILLS = ("bossa", "one drop", "two-beat", "bolero", "cha-cha")
FASTEST_HANDS_SEC = 0.060
"""Two hands in turn, each every 120 ms (common practice, no source)."""


def test_every_drummer_has_six_fills_from_a_part_of_a_beat_to_a_bar(library: Library) -> None:
    """Three in feels that hardly fill; no two alike (common practice, no source)."""
    cells = time_drums(library)
    assert len(cells) > 18
    for cell in cells:
        assert cell.meter is not None
        assert len(cell.fills) >= (3 if cell.name in FEW_FILLS else 6), cell.name
        shapes = {
            frozenset((s.key, s.start_beats - fill.beats) for s in fill.strokes)
            for fill in cell.fills
        }
        assert len(shapes) == len(cell.fills), cell.name
        sizes = [fill.beats / cell.meter.pulse_count for fill in cell.fills]
        assert min(sizes) <= Fraction(1, 4) and max(sizes) >= Fraction(1, 2), cell.name
        if cell.name not in FEW_FILLS:
            assert max(sizes) == 1, cell.name
            assert sum(size <= Fraction(1, 4) for size in sizes) >= 1, cell.name
            assert sum(size > Fraction(1, 2) for size in sizes) >= 2, cell.name


def test_two_hands_can_play_the_fills_at_the_top_tempo(library: Library) -> None:
    """Hands in turn: strokes of one after the other, two at once take both."""
    compared = 0
    for feel in sounding_feels(library):
        for cell, tempo_bpm in feel_drums(library, feel):
            for fill in cell.fills:
                hands = sorted({s.start_beats for s in fill.strokes if s.key not in FEET})
                gaps = [float(b - a) * beat_sec(feel, tempo_bpm) for a, b in pairwise(hands)]
                assert min(gaps, default=1) >= FASTEST_HANDS_SEC, (cell.name, fill.beats)
                compared += len(gaps)
    assert compared > 400


def test_fills_run_down_the_drums_and_leave_the_hat(library: Library) -> None:
    """One of a quarter of a bar may stay on its drum."""
    cells = time_drums(library)
    assert len(cells) > 18
    for cell in cells:
        assert cell.meter is not None
        for fill in cell.fills:
            assert 0 < fill.beats <= cell.meter.pulse_count, cell.name
            hands = sorted(
                (s for s in fill.strokes if s.key not in FEET), key=lambda s: s.start_beats
            )
            assert not {s.key for s in hands} & STICK, cell.name
            ranks = [TOMS_DOWN.index(s.key) for s in hands]
            assert (ranks[0], ranks[-1]) == (min(ranks), max(ranks)), cell.name
            is_small = fill.beats * 4 <= cell.meter.pulse_count
            assert ranks[-1] > ranks[0] or is_small, cell.name
            assert hands[-1].start_beats >= fill.beats - 1, cell.name


def test_kick_of_a_fill_is_under_its_accents(library: Library) -> None:
    kicks = 0
    for cell in time_drums(library):
        for fill in cell.fills:
            hands = {s.start_beats for s in fill.strokes if s.key not in FEET}
            feet = starts(fill.strokes, "kick")
            assert feet and feet <= hands, cell.name
            kicks += len(feet)
    assert kicks >= 19


def velocities(feel: Feel, strokes: list[DrumStroke]) -> list[int]:
    """Return the velocities of some strokes in a feel."""
    return [level_velocity(stroke.level) - feel.softer_by for stroke in strokes]


def test_velocities_of_loud_feels(library: Library) -> None:
    """Backbeat 100-115, closed hat in eighths 60-85, ghost snare 25-40; the kick's main 95-110."""
    counts = {"backbeat": 0, "hat": 0, "ghost": 0, "kick": 0}
    for feel in sounding_feels(library):
        if feel.softer_by == 0:
            for cell, _ in feel_drums(library, feel):
                strokes = [stroke for bar in cell.bars for stroke in bar]
                wanted = {
                    "backbeat": (
                        [s for s in strokes if s.key == "snare" and s.level > 8],
                        100,
                        115,
                    ),
                    "hat": ([s for s in strokes if s.key == "hat"], 60, 85),
                    "ghost": ([s for s in strokes if s.key == "snare" and s.level < 3], 25, 40),
                    "kick": ([s for s in strokes if s.key == "kick" and s.level > 7], 95, 110),
                }
                for name, (found, low, high) in wanted.items():
                    off = [v for v in velocities(feel, found) if not low <= v <= high]
                    assert off == [], (feel.name, name)
                    counts[name] += len(found)
    assert min(counts.values()) >= 4, counts


def test_walking_kick_is_feathered(library: Library) -> None:
    feel = library.feels["walking"]
    (bar,) = library.drums["walking"].bars
    kicks = velocities(feel, [s for s in bar if s.key == "kick"])
    assert len(kicks) == 4
    assert [v for v in kicks if not 20 <= v <= 35] == []


def test_hat_on_the_beat_is_louder_than_off_it(library: Library) -> None:
    """Hats and rides: the mean of strokes on a beat above the mean of those off it."""
    compared = 0
    for cell in time_drums(library):
        hats = [s for bar in cell.bars for s in bar if s.key in ("hat", "ride")]
        on = [s.level for s in hats if s.start_beats.denominator == 1]
        off = [s.level for s in hats if s.start_beats.denominator > 1]
        if on and off:
            assert sum(on) / len(on) > sum(off) / len(off), cell.name
            compared += 1
    assert compared >= 22
