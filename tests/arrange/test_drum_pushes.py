"""The drummer plays pushed chords with the bass, read from the written MIDI with mido.

Common practice, no source: kick and bass together, at most 15 ms apart; a cymbal or the snare on
top where the feel is loud; a feathered kick with ride or side stick in quiet feels and at p.
"""

from bisect import bisect_left
from functools import lru_cache
from random import Random

import pytest

from groove.events import Part, Performance
from groove.io.midi import midi_bytes
from groove.pipeline import perform_chart
from tests.arrange.random_songs import progression
from tests.arrange.songs import IN_THREES, LIBRARY, METERS, chart
from tests.midi_support import Stroke, mido_strokes

KICK, SNARE, RIM = 36, 38, 37
CRASHES, RIDES = {49, 57}, {51, 53, 59}
HATS = {42, 44, 46}
QUIET = [name for name, feel in LIBRARY.feels.items() if not feel.crash and name != "long notes"]
LOUD = [name for name, feel in LIBRARY.feels.items() if feel.crash]
TOGETHER_SEC = 0.015
TICKS_PER_QUARTER = 960
TEMPO = 96


@lru_cache(maxsize=40)
def pushed_song(feel: str, head: str = "") -> Performance:
    """Return a played song of two sections with a push in most bars."""
    random = Random(f"pushes {feel}")
    signs = ["<", "<", "4<"] if feel in IN_THREES else ["<", "<", "<", "16<", "8.<", "4<"]
    sections = {}
    for name in ("verse", "chorus"):
        bars = progression(random, 8)
        sections[name] = [
            f"{random.choice(signs)}{bar}" if random.random() < 0.85 else bar for bar in bars
        ]
    head = f"meter: {METERS[feel]}\n{head}"
    return perform_chart(chart(sections, feel=feel, fills="few", head=head), LIBRARY)


@lru_cache(maxsize=40)
def written_strokes(feel: str, head: str = "") -> list[Stroke]:
    """Return the strokes of such a song as its file has them."""
    return mido_strokes(midi_bytes(pushed_song(feel, head)))


def struck_at(strokes: list[Stroke], channel: int, tick: int, within: int) -> list[Stroke]:
    """Return the strokes of a channel within so many ticks of one."""
    return [s for s in strokes if s[0] == channel and abs(s[2] - tick) <= within]


def pushes(performance: Performance) -> list[tuple[int, int]]:
    """Return (tick on the grid, bass's tick in the file) of every pushed chord of the bass."""
    return [
        (note.grid_tick, note.onset_tick)
        for note in performance.part_notes(Part.BASS)
        if note.origin.pushed_ticks
    ]


def ticks_within(performance: Performance) -> int:
    """Return 15 ms in ticks at the song's tempo."""
    return int(TOGETHER_SEC * TEMPO / 60 * TICKS_PER_QUARTER * _tempo_unit(performance))


def _tempo_unit(performance: Performance) -> float:
    """Return how many quarters a beat of the tempo lasts."""
    return float(performance.bars[0].meter.tempo_unit_quarters)


@pytest.mark.parametrize(
    "feel", [name for name in sorted(LIBRARY.feels) if name != "long notes"], scope="module"
)
def test_kick_and_keys_are_with_the_bass_on_every_push(feel: str) -> None:
    """At most 15 ms apart; as all three stray together there, as a rule on one tick."""
    compared = exact = 0
    performance, strokes = pushed_song(feel), written_strokes(feel)
    within = ticks_within(performance)
    assert within > 15
    kicked = {n.grid_tick for n in performance.part_notes(Part.DRUMS) if n.pitch == KICK}
    keys = {note.grid_tick for note in performance.part_notes(Part.KEYS)}
    for grid, onset in pushes(performance):
        assert grid in kicked
        kicks = [s for s in struck_at(strokes, 10, onset, within) if s[1] == KICK]
        assert len(kicks) == 1, grid
        assert grid in keys
        assert struck_at(strokes, 3, onset, within), grid
        exact += kicks[0][2] == onset and bool(struck_at(strokes, 3, onset, 0))
        compared += 1
    assert compared >= 10
    assert exact >= 0.95 * compared


@pytest.mark.parametrize("feel", LOUD)
def test_a_cymbal_or_the_snare_is_on_most_pushes_of_loud_feels(feel: str) -> None:
    hit, compared, seen = 0, 0, set()
    performance, strokes = pushed_song(feel), written_strokes(feel)
    for _, onset in pushes(performance):
        keys = {s[1] for s in struck_at(strokes, 10, onset, ticks_within(performance))}
        hit += bool(keys & (CRASHES | RIDES | {46, SNARE}))
        seen |= keys
        compared += 1
    assert compared >= 10
    assert hit * 5 >= compared * 4
    assert seen & CRASHES


@pytest.mark.parametrize("feel", [*QUIET, "sixteenths", "shuffle", "soul"])
def test_quiet_pushes_are_felt_with_ride_or_side_stick(feel: str) -> None:
    """Quiet feels at mf, any at p: a kick of at most 50 in velocity, and nothing crashes."""
    compared = 0
    head = () if feel in QUIET else ("dynamics: p",)
    performance, strokes = pushed_song(feel, *head), written_strokes(feel, *head)
    for grid, onset in pushes(performance):
        near = struck_at(strokes, 10, onset, ticks_within(performance))
        keys = {stroke[1] for stroke in near}
        assert keys & {RIM, *RIDES}, grid
        assert max(s[4] for s in near if s[1] == KICK) <= 50
        compared += 1
    assert not {s[1] for s in strokes if s[0] == 10} & CRASHES
    assert compared >= 10


def test_what_a_push_replaces_is_left_out() -> None:
    """No kick and no crash from the push to the place that it takes, in any feel."""
    compared = 0
    for feel in LOUD:
        performance = pushed_song(feel)
        drums = performance.part_notes(Part.DRUMS)
        ticks = [note.grid_tick for note in drums]
        for note in performance.part_notes(Part.BASS):
            pushed = note.origin.pushed_ticks
            if not pushed:
                continue
            first = bisect_left(ticks, note.grid_tick - 200)
            between = {
                n.pitch
                for n in drums[first : first + 60]
                if note.grid_tick < n.grid_tick <= note.grid_tick + pushed
                and not n.origin.pushed_ticks
            }
            assert not between & {KICK, *CRASHES}, (feel, note.grid_tick)
            compared += 1
    assert compared > 75


def test_a_push_is_set_up_an_eighth_before_where_there_is_room() -> None:
    """By the snare, where no backbeat stands: these pushes are set up on 3+, and before 4 and 1."""
    setups = compared = 0
    for feel in ("straight eighths", "sixteenths", "soul", "half-time", "octaves"):
        text = chart({"verse": ["D", "4<G", "A", "16<D", "G", "8.<A", "D"] * 2}, feel=feel)
        performance = perform_chart(text, LIBRARY)
        drums = performance.part_notes(Part.DRUMS)
        for grid, _ in pushes(performance):
            before = {n.pitch for n in drums if n.grid_tick == grid - TICKS_PER_QUARTER // 2}
            setups += SNARE in before
            compared += 1
    assert compared == 30
    assert setups >= 27


def test_a_push_in_three_is_set_up_on_the_beat_before() -> None:
    """The eighth before the last triplet is the long one: a shuffle's push of an eighth."""
    text = chart({"verse": ["D", "G / <A /", "D", "G / <A /", "D"]}, feel="shuffle")
    performance = perform_chart(text, LIBRARY)
    drums = performance.part_notes(Part.DRUMS)
    found = pushes(performance)
    assert [grid % 3840 for grid, _ in found] == [1920 - 320] * 2
    for grid, _ in found:
        assert {n.pitch for n in drums if n.grid_tick == grid - 640} >= {SNARE}
        assert SNARE not in {n.pitch for n in drums if n.grid_tick == grid - 320}


def test_two_hands_play_every_moment_of_a_song_with_pushes() -> None:
    moments = 0
    for feel in LIBRARY.feels:
        performance = pushed_song(feel)
        hands: dict[int, list[int]] = {}
        for note in performance.part_notes(Part.DRUMS):
            if note.pitch not in (35, KICK, 44):
                hands.setdefault(note.grid_tick, []).append(note.pitch)
        for tick, struck in hands.items():
            assert len(struck) <= 2 and len(set(struck)) == len(struck), (feel, tick, struck)
            assert len(set(struck) & {42, 46, 49, 51, 53, 57, 59}) <= 1, (feel, tick, struck)
            moments += 1
    assert moments > 1500
