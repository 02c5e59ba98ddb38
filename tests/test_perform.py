"""Performing: swing in ticks, ghosts, lengths, and a hand that drifts."""

import itertools
import statistics
from fractions import Fraction
from random import Random

import pytest
from msgspec.structs import replace

from groove.arrange.draws import draw_for, first_draw
from groove.arrange.dynamics import level_offset
from groove.events import FretPlace, Note, Part, Touch
from groove.perform import _one_at_a_time, swing_share, swung_offset
from groove.pipeline import PerformOptions, perform_chart
from groove.text.notices import notice_texts
from groove.timing import Swing, SwingUnit, TempoChange, TempoMap
from tests.arrange.songs import LIBRARY, chart, play
from tests.hand_performance import note as note_by_hand

# Long share of a beat for a ratio r : 1 is r / (1 + r).  If the short note is held at 100 ms,
# r = (60000/bpm - 100)/100 within 1 and 3.5: the published ends are 3.5 near 120 and 1 when fast
# (A. Friberg and A. Sundström, Music Perception 19(3), 2002).
BY_TEMPO = {100: 3.5, 150: 3.0, 160: 2.75, 200: 2.0, 240: 1.5, 300: 1.0, 320: 1.0}


@pytest.mark.parametrize(("qpm", "ratio"), BY_TEMPO.items())
def test_swing_by_tempo(qpm: int, ratio: float) -> None:
    share = swing_share(Swing(None, SwingUnit.EIGHTHS), qpm)
    assert share == pytest.approx(ratio / (1 + ratio), abs=1e-9)


@pytest.mark.parametrize(
    ("offset", "moved"), [(0, 0), (480, 640), (960, 960), (1440, 1600), (240, 320), (720, 800)]
)
def test_triplet_swing_puts_the_off_beat_on_the_last_triplet(offset: int, moved: int) -> None:
    # Ratio 2 : 1 is two thirds of the beat: 640 of 960 ticks.
    assert swung_offset(offset, 480, 2 / 3) == moved


def test_triplets_are_not_swung_again() -> None:
    assert [swung_offset(tick, 480, 0.66) for tick in (320, 640, 1280)] == [320, 640, 1280]


def test_a_charts_swing_moves_every_part_alike() -> None:
    text = chart(
        {"verse": ["D", "G", "A", "D"]}, feel="straight eighths", head="swing: 60% eighths"
    )
    performance = play(text)
    offs = [n for n in performance.notes if n.grid_tick % 960 == 480]
    assert {n.part for n in offs} >= {Part.BASS, Part.DRUMS}
    # 60 % of a beat of 960 ticks is 576: 96 ticks after the straight place.
    assert {note.shift_ticks for note in offs} == {96}
    assert {n.shift_ticks for n in performance.notes if n.grid_tick % 960 == 0} == {0}


def test_swing_is_left_out_in_triplet_cells_with_a_notice() -> None:
    text = chart({"verse": ["D", "G", "A", "D"]}, feel="shuffle", head="swing: 60% eighths")
    performance = play(text)
    assert {note.shift_ticks for note in performance.notes} == {0}
    assert any("swing is left out" in notice for notice in notice_texts(performance.notices))


@pytest.mark.parametrize("tempo", [72, 88, 104])
def test_ghosts_are_short_and_soft(tempo: int) -> None:
    # 40-60 % of the neighbours, 30-60 ms, never over half of a neighbour
    # (common practice, no source).
    text = chart({"verse": ["D", "G", "A", "D"] * 2}).replace("tempo: 96", f"tempo: {tempo}")
    performance = play(text)
    line = performance.part_notes(Part.BASS)
    ghosts = 0
    for before, note, after in zip(line, line[1:], line[2:], strict=False):
        if note.touch is not Touch.GHOST or Touch.GHOST in (before.touch, after.touch):
            continue
        mean = (before.velocity + after.velocity) / 2
        assert 0.39 <= note.velocity / mean <= 0.61
        at = performance.tempo_map.tick_to_sec
        sec = at(note.end_tick) - at(note.onset_tick)
        assert sec <= 0.060
        assert (
            sec >= 0.030
            or note.length_ticks * 2 >= min(before.length_ticks, after.length_ticks) - 1
        )
        assert note.length_ticks <= min(before.length_ticks, after.length_ticks) / 2
        ghosts += 1
    assert ghosts >= 8


def test_tight_is_on_the_grid_and_the_hand_is_not() -> None:
    text = chart({"verse": ["D", "G", "A", "D"] * 4}, feel="octaves")
    tight = play(text)
    human = perform_chart(text, LIBRARY)
    assert {note.shift_ticks for note in tight.notes} == {0}
    for part in (Part.BASS, Part.DRUMS, Part.KEYS):
        shifts = [n.shift_ticks * 500 / 960 for n in human.part_notes(part) if n.grid_tick]
        assert len(shifts) > 30
        # Standard deviations of a rhythm section: 4-10 ms between players, less within the kit
        # (common practice, no source; the direction after Frontiers in Psychology 8:1709, 2017).
        assert 1 < statistics.stdev(shifts) < 10
        assert max(abs(shift) for shift in shifts) < 30


def test_drift_is_correlated_and_jitter_alone_is_not() -> None:
    # Drift and jitter are two processes (M. Sogorski et al., PLoS ONE 13(1), 2018): neighbours of a
    # drifting hand resemble each other, which white jitter cannot give.
    text = chart({"verse": ["D", "G", "A", "D"] * 16}, feel="octaves")
    shifts = [n.shift_ticks for n in perform_chart(text, LIBRARY).part_notes(Part.BASS)]
    assert len(shifts) > 400
    mean = statistics.fmean(shifts)
    centred = [shift - mean for shift in shifts]
    lagged = sum(a * b for a, b in itertools.pairwise(centred))
    assert lagged / sum(a * a for a in centred) > 0.3


def test_lengths_follow_the_feel() -> None:
    # A sixteenth feel is played short, a ballad long (common practice, no source).
    shares = {}
    for feel in ("broken sixteenths", "ballad"):
        line = play(chart({"verse": ["D"] * 8}, feel=feel)).part_notes(Part.BASS)
        plain = [n for n in line if n.touch is not Touch.GHOST and n.written_ticks <= 960]
        assert len(plain) > 8
        shares[feel] = sum(n.length_ticks for n in plain) / sum(n.written_ticks for n in plain)
    assert 0.5 <= shares["broken sixteenths"] <= 0.7
    assert shares["ballad"] >= 0.9


def test_a_bass_has_one_voice() -> None:
    line = perform_chart(chart({"verse": ["D", "<G", "A Bm", "D"] * 4}), LIBRARY).part_notes(
        Part.BASS
    )
    assert len(line) > 80
    for before, after in itertools.pairwise(line):
        assert before.end_tick <= after.onset_tick


def bass_line(*notes: tuple[int, int, int]) -> list[Note]:
    """Return notes of (tick, length, string), string 0 where the hand is free."""
    return [
        replace(
            note_by_hand(Part.BASS, tick, length, 40),
            stated_place=FretPlace(string, 3) if string else None,
        )
        for tick, length, string in notes
    ]


def test_a_hand_that_strays_past_a_note_strikes_right_after_it() -> None:
    line = bass_line((0, 100, 0), (20, 100, 0), (40, 100, 0), (60, 100, 0), (60, 100, 0))
    onsets, lengths = _one_at_a_time(line, [0, 50, 30, 30, 70], [100, 60, 60, 60, 60])
    # The third and fourth would come before the second; the last two are struck as one.
    assert onsets == [0, 50, 51, 52, 52]
    assert lengths[:3] == [50, 1, 1]


@pytest.mark.parametrize(
    ("strings", "lengths"),
    [
        # By hand: a free hand lets each note go where the next one begins.
        ((0, 0, 0, 0), [480, 480, 950, 960]),
        # Those that the player wrote ring for as long as they are written, to the one after that.
        ((4, 3, 2, 2), [1910, 1430, 950, 960]),
        # One among them that is free ends what rings before it.
        ((4, 0, 2, 2), [480, 480, 950, 960]),
    ],
)
def test_written_notes_ring_beside_each_other(strings: tuple[int, ...], lengths: list[int]) -> None:
    places = zip((0, 480, 960, 1920), (1920, 1440, 960, 960), strings, strict=True)
    line = bass_line(*places)
    stated = [note.length_ticks for note in line]
    onsets = [0, 480, 960, 1910]  # the last a little early
    assert _one_at_a_time(line, onsets, stated) == (onsets, lengths)


def test_dynamics_follow_section_names_and_say_so() -> None:
    four = ["D", "G", "A", "D"]
    text = chart({"intro": four, "verse": four, "chorus": four, "breakdown": four, "end": ["D"]})
    performance = play(text)
    means = {}
    for name in ("intro", "verse", "chorus", "breakdown"):
        own = [
            n.velocity
            for n in performance.notes
            if n.part == "bass" and n.origin.bar.section == name
        ]
        means[name] = statistics.fmean(own)
    assert means["breakdown"] < means["intro"] < means["verse"] < means["chorus"]
    assert any("chorus +8 by its name" in notice for notice in notice_texts(performance.notices))


def test_a_charts_loudness_stands_above_the_name() -> None:
    text = "tempo: 96\nchorus:\n  loudness: p\n| D | G |\nend:\n| D |\n"
    performance = perform_chart(text, LIBRARY, PerformOptions(tight=True))
    assert any("chorus p" in n for n in notice_texts(performance.notices))


def test_beat_one_is_the_strongest_and_the_last_chorus_a_little_more() -> None:
    four = ["D", "G", "A", "D"]
    text = chart({"verse": four, "chorus": four}, feel="octaves") + (
        "form: verse, chorus, verse, chorus, verse\n"
    )
    performance = play(text)
    line = [n for n in performance.part_notes(Part.BASS) if n.origin.bar.played_bar < 20]
    level = performance.part_notes(Part.BASS)[0].origin
    assert level.cell == "octaves"
    ones = [n.velocity for n in line if n.grid_tick % 3840 == 0 and n.origin.bar.section == "verse"]
    threes = [
        n.velocity for n in line if n.grid_tick % 3840 == 1920 and n.origin.bar.section == "verse"
    ]
    # The cell gives both beats nearly the same level (9 and 8: 10 apart); beat 1 has 4 on top.
    assert min(ones) - max(threes) >= 14
    choruses = {
        number: max(
            n.velocity
            for n in line
            if n.origin.bar.section == "chorus" and n.origin.bar.occurrence == number
        )
        for number in (1, 2)
    }
    assert choruses[2] == choruses[1] + 3


def test_the_hand_strays_otherwise_each_time_a_section_comes() -> None:
    text = chart({"verse": ["D", "G", "A", "D"], "end": ["D"]}, feel="octaves", head="vary: none")
    performance = perform_chart(text + "form: verse x2, end\n", LIBRARY)
    shifts = {
        number: [
            n.shift_ticks
            for n in performance.part_notes(Part.BASS)
            if n.origin.bar.section == "verse" and n.origin.bar.occurrence == number
        ]
        for number in (1, 2)
    }
    assert len(shifts[1]) == len(shifts[2]) > 20
    assert shifts[1] != shifts[2]


@pytest.mark.parametrize("feel", sorted(LIBRARY.feels))
def test_no_note_is_held_past_the_end_of_the_song(feel: str) -> None:
    performance = perform_chart(chart({"verse": ["D", "G", "A", "D"]}, feel=feel), LIBRARY)
    assert max(note.end_tick for note in performance.notes if note.part != "drums") <= (
        performance.end_tick
    )


def test_the_only_chorus_of_a_song_is_no_last_one() -> None:
    """Common practice, no source: one chorus is a chorus, the last of several a little more."""
    four = ["D", "G", "A", "D"]
    sections = {"verse": four, "chorus": four, "end": ["D"]}
    levels = {}
    for form in ("verse, chorus, end", "verse, chorus, verse, chorus, end"):
        performance = play(chart(sections, feel="octaves") + f"form: {form}\n")
        levels[form] = [
            [n.velocity for n in performance.notes if n.origin.bar.occurrence == number
             and n.origin.bar.section == "chorus" and n.part is Part.BASS
             and n.grid_tick % 3840 == 0]
            for number in (1, 2)
        ]  # fmt: skip
    (only, none), (first, last) = levels.values()
    assert len(only) == 4 and not none
    assert only == first
    assert all(b > a for a, b in zip(first, last, strict=True))


def test_a_generator_is_sown_with_its_name_as_python_does() -> None:
    # Judge: ``random.Random``, whose sequence for a text Python promises to keep (version 2).
    names = [f"{seed}:bass:jitter:Réfrain {seed}:*:{seed}" for seed in range(200)]
    for name in names:
        sown, judge = draw_for(*_named(name)), Random(name)
        assert [sown.random() for _ in range(5)] == [judge.random() for _ in range(5)]
        assert first_draw(*_named(name)) == Random(name).random()
    assert len(names) == 200


def _named(name: str) -> tuple[int, str, str, str, int, int | None]:
    """Return what ``draws`` makes such a name of."""
    seed, part, purpose, section, _, bar = name.split(":")
    return int(seed), part, purpose, section, int(bar), None


def test_times_become_ticks_each_at_its_own_tempo() -> None:
    # 120 quarters a minute are 1.92 ticks a millisecond, 60 are 0.96 (960 ticks a quarter).
    tempo_map = TempoMap((TempoChange(0, 500_000), TempoChange(960, 1_000_000)))
    found = tempo_map.each_ms_to_ticks([50, 50, -25], at_ticks=[0, 960, 959])
    assert found == [96, 48, -48]


def test_the_whole_band_strays_together_on_a_pushed_chord() -> None:
    # A push is a hit of all (common practice, no source): a flam of bass, keys and drums is none.
    bars = ["D", "<G", "D", "<A", "Em", "<<G", "A", "<D"]
    performance = perform_chart(chart({"verse": bars}, feel="straight eighths"), LIBRARY)
    onsets: dict[int, set[int]] = {}
    parts: dict[int, set[Part]] = {}
    for note in performance.notes:
        if note.origin.pushed_ticks:
            onsets.setdefault(note.grid_tick, set()).add(note.grid_tick + note.shift_ticks)
            parts.setdefault(note.grid_tick, set()).add(note.part)
    assert [len(found) for found in onsets.values()] == [1] * 4
    assert all(found >= {Part.BASS, Part.KEYS} for found in parts.values())
    assert len({min(found) - tick for tick, found in onsets.items()}) > 1


def test_a_level_between_two_dynamics_is_between_their_velocities() -> None:
    # A hairpin rises evenly (common practice, no source).
    for level in range(5):
        low, middle, high = (level_offset(Fraction(2 * level + half, 2)) for half in (0, 1, 2))
        assert low < middle < high
    assert level_offset(Fraction(5)) > level_offset(Fraction(9, 2))


def test_the_softest_ghost_is_still_struck() -> None:
    # Velocities below ten or so make no sound in many fonts (common practice, no source).
    text = chart({"verse": ["D", "G", "A", "D"]}, feel="one-chord funk", head="dynamics: pp")
    velocities = [note.velocity for note in perform_chart(text, LIBRARY).notes]
    assert min(velocities) == 10
    assert len(velocities) > 60


def test_each_player_wanders_alone() -> None:
    # Three people drift each on their own (common practice, no source): no common tempo sways.
    song = perform_chart(
        chart({"verse": ["D", "G", "A", "D"] * 8}, feel="straight eighths"), LIBRARY
    )
    late = {}
    for part in (Part.BASS, Part.DRUMS, Part.KEYS):
        bars: dict[int, list[int]] = {}
        for note in song.part_notes(part):
            bars.setdefault(note.origin.bar.played_bar, []).append(note.shift_ticks)
        late[part] = [statistics.mean(bars[number]) for number in sorted(bars)]
    pairs = list(itertools.combinations(late.values(), 2))
    assert len(pairs) == 3
    assert all(abs(statistics.correlation(one, other)) < 0.5 for one, other in pairs)


def test_a_quiet_feel_is_softer_than_its_cells_elsewhere() -> None:
    # A bossa nova is played softly (common practice, no source); its cells alone say nothing of it.
    bars = {"verse": ["D", "G", "A", "D"]}
    own = play(chart(bars, feel="bossa")).part_notes(Part.BASS)
    lent = play(chart(bars, feel="straight eighths", head="bass: bossa")).part_notes(Part.BASS)
    assert [note.pitch for note in own] == [note.pitch for note in lent]
    assert len(own) > 10
    assert {loud.velocity - soft.velocity for soft, loud in zip(own, lent, strict=True)} == {25}
