"""Words in brackets at a bar's head: what drums, keys and bass do where a chart says so.

Positions are counted by hand, 960 ticks a quarter; what the words ask for is the project's own
language, and common practice, no source, where a rule of the trade is meant.
"""

from itertools import pairwise

import pytest

from groove.cells.model import Library
from groove.events import Note, Part, Performance
from groove.pipeline import PerformOptions, perform_chart
from groove.theory.general_midi import DRUM_KEYS
from tests.arrange.tabs import tab_rows

TIGHT = PerformOptions(tight=True)
BAR = 3840
EIGHTH = 480
CYMBALS = {DRUM_KEYS[name] for name in ("hat", "open_hat", "ride", "ride_bell")}
KICK, SNARE, CRASH = (DRUM_KEYS[name] for name in ("kick", "snare", "crash"))


def played(
    library: Library, bars: str, feel: str = "sixteenths", head: str = "", rows: str = ""
) -> Performance:
    """Return what the band plays of bars in a verse."""
    text = f"tempo: 96\nkey: D\nfeel: {feel}\n{head}verse:\n{bars}\n{rows}\n"
    return perform_chart(text, library, TIGHT)


def bar(performance: Performance, part: Part, number: int) -> list[Note]:
    """Return a part's notes of one bar by its place on the page, from 1."""
    start = performance.bars[number - 1].start_tick
    end = performance.bars[number - 1].end_tick
    return [note for note in performance.part_notes(part) if start <= note.grid_tick < end]


def ticks(performance: Performance, part: Part, number: int) -> list[int]:
    """Return where a part strikes in a bar, from its line, each once."""
    start = performance.bars[number - 1].start_tick
    return sorted({note.grid_tick - start for note in bar(performance, part, number)})


HITS = [
    ("sixteenths", "4/4", "1 2+ 4", [0, 2 * 960 - 480, 3 * 960]),
    ("shuffle", "4/4", "1 2+", [0, 2 * 960 - 320]),
    ("walking", "4/4", "2+ 4+", [2 * 960 - 480, 4 * 960 - 480]),
    ("waltz", "3/4", "1 3+", [0, 3 * 960 - 480]),
    ("six-eight", "6/8", "1 2+", [0, 2 * 1440 - 480]),
    ("seven-eight", "7/8", "1 4 6", [0, 3 * 480, 5 * 480]),
    ("long notes", "4/4", "1 3", [0, 1920]),
]


@pytest.mark.parametrize(("feel", "meter", "points", "wanted"), HITS)
def test_all_play_the_hits_and_nothing_else(
    library: Library, feel: str, meter: str, points: str, wanted: list[int]
) -> None:
    performance = played(library, f"| D | (hits {points}) G | D | D |", feel, f"meter: {meter}\n")
    assert ticks(performance, Part.BASS, 2) == wanted
    assert {note.pitch for note in bar(performance, Part.BASS, 2)} == {31}
    assert max(note.written_ticks for note in bar(performance, Part.BASS, 2)) <= 480
    for part in (Part.DRUMS, Part.KEYS):
        assert ticks(performance, part, 2) in (wanted, []), part
    assert ticks(performance, Part.KEYS, 2) == wanted


@pytest.mark.parametrize("feel", ["sixteenths", "long notes", "soul"])
def test_a_chord_without_a_hit_is_not_played(library: Library, feel: str) -> None:
    performance = played(library, "| D | (hits 1 2) G / A / | <D | D |", feel)
    for part in (Part.BASS, Part.KEYS):
        # <D belongs to the bar after the hits: bass and keys come early together.
        assert ticks(performance, part, 2) == [0, 960, BAR - EIGHTH], part


def test_a_hit_on_a_chord_that_comes_early_is_on_that_chord(library: Library) -> None:
    """4+ is where <A of the next bar sounds: A1 (33)."""
    performance = played(library, "| D | (hits 1 4+) G | <A | D |")
    hits = [(note.grid_tick - BAR, note.pitch) for note in bar(performance, Part.BASS, 2)]
    assert hits == [(0, 31), (4 * 960 - EIGHTH, 33)]


@pytest.mark.parametrize("feel", ["sixteenths", "soul", "straight eighths", "octaves"])
def test_time_goes_on_under_kicks_and_all_catch_them(library: Library, feel: str) -> None:
    plain = played(library, "| D | G | D | D |", feel)
    kicked = played(library, "| D | (kicks 2+ 4) G | D | D |", feel)
    catches = {2 * 960 - EIGHTH, 3 * 960}
    for part in (Part.BASS, Part.DRUMS, Part.KEYS):
        assert catches <= set(ticks(kicked, part, 2)), part
    drums = bar(kicked, Part.DRUMS, 2)
    for tick in catches:
        struck = {note.pitch for note in drums if note.grid_tick == BAR + tick}
        assert KICK in struck and not struck & CYMBALS
    kept = {
        (note.grid_tick, note.pitch)
        for note in bar(plain, Part.DRUMS, 2)
        if note.grid_tick - BAR not in catches
    }
    assert len(kept) > 4 and kept <= {(note.grid_tick, note.pitch) for note in drums}
    lines = {n.grid_tick for n in bar(plain, Part.BASS, 2)}
    assert len(lines & {n.grid_tick for n in bar(kicked, Part.BASS, 2)}) >= len(lines) - 1
    for number in (1, 3):
        assert [n.pitch for n in bar(plain, Part.BASS, number)] == [
            n.pitch for n in bar(kicked, Part.BASS, number)
        ]


def test_a_hit_in_triplets_ends_where_the_next_one_or_the_bar_begins(library: Library) -> None:
    # The second third of a beat is 320 ticks before the next beat.
    performance = played(library, "| D | (hits 1+ 2 4+) G | D | D |", "shuffle")
    hits = [n for n in performance.part_notes(Part.BASS) if n.origin.bar.played_bar == 2]
    lengths = [(note.grid_tick - BAR, note.written_ticks) for note in hits]
    assert lengths == [(640, 320), (960, 480), (3520, 320)]
    onsets = [note.grid_tick for note in performance.part_notes(Part.BASS)]
    assert len(set(onsets)) == len(onsets)


def test_no_two_notes_of_a_bass_sound_at_once_under_hits_and_kicks(library: Library) -> None:
    for feel in ("sixteenths", "tumbao", "bossa", "walking"):
        performance = played(library, "| D | (kicks 1 2+ 3) G | (hits 2 4+) A | <D | D |", feel)
        notes = performance.part_notes(Part.BASS)
        pairs = list(pairwise(notes))
        assert len(pairs) > 8
        assert all(one.grid_tick + one.written_ticks <= two.grid_tick for one, two in pairs), feel


def fills_of(performance: Performance, number: int) -> set[Part]:
    """Return who fills in a bar."""
    return {
        note.part
        for note in performance.notes
        if note.origin.bar.played_bar == number and not note.origin.time_keeping
    }


def test_a_fill_is_played_where_it_is_asked_for_and_nowhere_it_is_forbidden(
    library: Library,
) -> None:
    for seed in (1, 2):
        head = f"fills: none\nseed: {seed}\n"
        asked = played(library, "| D | (fill) G | A | D | D |", head=head)
        assert len(fills_of(asked, 2)) == 1
        assert not any(fills_of(asked, number) for number in (1, 3, 4, 5))
        usual = played(library, "| D | G | A | D |\nchorus:\n| G | A |", head=f"seed: {seed}\n")
        spared = played(
            library, "| D | G | A | (no fill) D |\nchorus:\n| G | A |", head=f"seed: {seed}\n"
        )
        assert fills_of(usual, 4) and not fills_of(spared, 4)


def test_a_fill_over_a_players_own_line_is_the_drummers(library: Library) -> None:
    rows = tab_rows({}, {"E": {0: "3===", 8: "5="}}, {}, {})
    for seed in (1, 2):
        head = f"fills: none\nseed: {seed}\n"
        performance = played(library, "| D | (fill) G | A | D |", head=head, rows=rows)
        assert fills_of(performance, 2) == {Part.DRUMS}


def test_thin_leaves_out_and_build_adds_until_the_next_word(library: Library) -> None:
    """Thin: no backbeat, the time on the beats; build: kick on every beat, snare between."""
    plain = played(library, "| D | D | D | D | D |")
    thin = played(library, "| D | (thin) D | D | (build) D | D |")
    for number in (2, 3):
        drums = bar(thin, Part.DRUMS, number)
        assert 0 < len(drums) < len(bar(plain, Part.DRUMS, number)) / 2
        assert SNARE not in {note.pitch for note in drums}
    built = bar(thin, Part.DRUMS, 4)
    assert len(built) > len(bar(plain, Part.DRUMS, 4))
    kicks = {note.grid_tick - 3 * BAR for note in built if note.pitch == KICK}
    assert {0, 960, 1920, 2880} <= kicks
    rising = [
        note.velocity
        for note in built
        if note.pitch == SNARE and (note.grid_tick - 3 * BAR) % 960 == EIGHTH
    ]
    assert len(rising) == 4 and rising == sorted(rising) and rising[0] < rising[-1]
    assert len(bar(thin, Part.DRUMS, 1)) == len(bar(plain, Part.DRUMS, 1))


def test_no_drum_is_struck_twice_at_once(library: Library) -> None:
    for words in ("(build) (kicks 1 2+)", "(build)", "(kicks 1 2 3 4)", "(hits 1 1+)"):
        drums = bar(played(library, f"| D | {words} D | D |"), Part.DRUMS, 2)
        struck = [(note.grid_tick, note.pitch) for note in drums]
        assert len(struck) == len(set(struck)) > 0, words


def test_the_last_hit_is_short_and_of_all(library: Library) -> None:
    performance = played(library, "| D | G | (hit) D |")
    for part in (Part.BASS, Part.DRUMS, Part.KEYS):
        assert ticks(performance, part, 3) == [0], part
    assert max(n.written_ticks for n in bar(performance, Part.BASS, 3)) == EIGHTH
    assert CRASH in {note.pitch for note in bar(performance, Part.DRUMS, 3)}


def test_a_feel_in_a_bar_holds_to_the_sections_end(library: Library) -> None:
    performance = played(
        library, "| D | (feel shuffle) D | D |\nchorus:\n| G | G |", "straight eighths"
    )
    assert [each.feel for each in performance.bars] == [
        *("straight eighths", "shuffle", "shuffle", "straight eighths", "straight eighths"),
    ]
    assert 640 in ticks(performance, Part.BASS, 2)


def test_dynamics_in_bars_are_heard(library: Library) -> None:
    """p is 30 steps of MIDI below f by the project's table; a crescendo leads there."""
    performance = played(library, "| (p) D | (cresc) D | D | (f) D | D |")
    means = [
        sum(note.velocity for note in bar(performance, Part.DRUMS, number))
        / len(bar(performance, Part.DRUMS, number))
        for number in (1, 2, 3, 4)
    ]
    assert means[0] < means[2] < means[3] and means[3] - means[0] > 20


def test_a_ritard_slows_to_seventy_percent(library: Library) -> None:
    """96 a minute comes to 67.2 in the last bar."""
    tempo = played(library, "| D | (ritard) D | D | D |").tempo_map
    assert 60_000_000 / tempo.microseconds_at(0) == pytest.approx(96, abs=0.01)
    assert 60_000_000 / tempo.microseconds_at(3 * BAR) == pytest.approx(67.2, abs=0.05)


def test_a_tag_plays_the_end_three_times(library: Library) -> None:
    performance = played(library, "| D | A | (tag x3) G | D |")
    assert [each.ref.written_bar for each in performance.bars] == [1, 2, 3, 4, 3, 4, 3, 4]


TONES = {"upright": 33, "finger": 34, "pick": 35, "fretless": 36, "slap": 37, "muted": 34}
"""Programs of General MIDI Level 1 (sound set), counted from 1; a muted bass it has not."""


def test_a_tone_is_its_general_midi_program_and_muted_is_short(library: Library) -> None:
    for tone, program in TONES.items():
        performance = played(library, "| D | D |", head=f"bass tone: {tone}\n")
        assert dict(performance.programs)[Part.BASS] == program - 1, tone
    long = bar(played(library, "| D | D |", "octaves"), Part.BASS, 1)
    short = bar(played(library, "| D | D |", "octaves", "bass tone: muted\n"), Part.BASS, 1)
    assert len(long) > 4
    assert [n.written_ticks for n in long] == [n.written_ticks for n in short]
    assert all(b.length_ticks < 0.7 * a.length_ticks for a, b in zip(long, short, strict=True))


RIFF = "riff heron:\n  R - . 5 . 8 - . R - 8 . . 5 R - |\n  R - . 5 . 8 - . . . . . 8 - 5 -\n"


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_the_last_bar_of_a_riff_is_the_riff(library: Library, count: int) -> None:
    """Two bars in turn from bar 1 on; the band plays its bar of time with it."""
    text = f"{RIFF}tempo: 96\nkey: D\nverse:\n  bass: heron\n|{' D |' * count}\n"
    performance = perform_chart(text, library, TIGHT)
    wanted = [0, 720, 1200, 1920, 2400, 3120, 3360] if count % 2 else [0, 720, 1200, 2880, 3360]
    assert ticks(performance, Part.BASS, count) == wanted
    assert len(ticks(performance, Part.DRUMS, count)) > 2


def test_the_last_bar_that_is_written_is_what_is_written(library: Library) -> None:
    moving = tab_rows({}, {"A": {0: "5===", 4: "7===", 12: "5="}})
    still = tab_rows({}, {"A": {0: "5======="}})
    for rows, wanted, is_held in ((moving, [0, 960, 2880], False), (still, [0], True)):
        performance = played(library, "| D | D |", rows=rows)
        assert ticks(performance, Part.BASS, 2) == wanted
        assert (ticks(performance, Part.DRUMS, 2) == [0]) is is_held


def test_a_chord_that_is_pushed_into_hits_ends_where_the_band_hits(library: Library) -> None:
    """One string at a time: what is struck early is over when the next is struck."""
    compared = 0
    for feel in ("sixteenths", "shuffle", "walking", "one drop", "tumbao"):
        for push in ("<", "4<"):
            bars = f"| D | (hits 1 2+) {push}G | (kicks 1 2) <A | D |"
            performance = played(library, bars, feel)
            pairs = list(pairwise(performance.part_notes(Part.BASS)))
            assert all(one.grid_tick + one.written_ticks <= two.grid_tick for one, two in pairs)
            ends: dict[int, int] = {}
            for note in performance.part_notes(Part.KEYS):
                assert ends.get(note.pitch, 0) <= note.grid_tick, feel
                ends[note.pitch] = note.grid_tick + note.written_ticks
            compared += len(pairs) > 8 and len(ends) > 3
    assert compared == 10
