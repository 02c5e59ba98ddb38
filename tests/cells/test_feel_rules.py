"""The shipped feels against the players' rules.  All of these are common practice, no source."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from math import lcm

import pytest

from groove.arrange.levels import level_velocity
from groove.cells.model import Aim, AimKind, BassBar, BassCell, DrumCell, DrumStroke, Feel, Library
from tests.cells.cell_lines import (
    FEELS,
    FEET,
    STICK,
    DrumBar,
    bass_bars,
    beat_sec,
    drum_bars,
    feel_drums,
    phrase_end,
    sounding_starts,
    starts,
)

# Semitones of degrees over a major chord with the minor seventh.
MAJOR = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 8: 12, 9: 14, 10: 16}
TOMS_DOWN = (
    *("snare", "high_timbale", "high_tom", "mid_tom"),
    *("low_timbale", "low_tom", "floor_tom"),
)


def sounding_feels(library: Library) -> list[Feel]:
    """Return the feels that have a drummer: all but long notes."""
    feels = [library.feels[name] for name in FEELS if name != "long notes"]
    assert len(feels) == 30
    return feels


def time_drums(library: Library) -> list[DrumCell]:
    """Return the drum cells that keep time: one a feel with a drummer, two where one is fast."""
    cells = [cell for cell in library.drums.values() if cell.bars]
    assert len(cells) == 31
    return cells


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
def test_tempo_and_length_are_those_of_the_players_brief(
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
        assert feel.locks
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
    assert all(count >= 4 for count in counts.values()), counts


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
