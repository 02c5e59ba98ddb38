"""How lines lead into the next chord: runs, phrase ends, fills, anticipations, choruses.

The rules are common practice, no source; the wrong third is judged by mir_eval's chord tones.
"""

from functools import lru_cache
from itertools import groupby, pairwise
from random import Random

import pytest

from groove.cells.library import library_from
from groove.events import Note, Performance, PitchRule, Role
from groove.pipeline import perform_chart
from tests.arrange.random_songs import KEYS, chord_classes, progression, root_class, sounding_chord
from tests.arrange.songs import LIBRARY, METERS, TIGHT, chart, play_bass, struck
from tests.cells.cell_lines import BASS

BAR = 3840
LOWEST = 28  # E1, the lowest string of four
LEADING_FEELS = sorted(
    set(LIBRARY.feels) - {"long notes", "walking", "jazz waltz", "bossa", "samba", "tumbao"}
)


@lru_cache(maxsize=128)
def song(feel: str, seed: int, fills: str = "none") -> Performance:
    """Return a random song of eight bars and an ending in one feel and any key."""
    random = Random(f"{feel}{seed}")
    bars = progression(random, 8, two_a_bar=METERS.get(feel, "4/4") in ("4/4", "12/8", "6/8"))
    text = chart(
        {"verse": bars, "end": ["C", "C"]},
        feel=feel,
        fills=fills,
        head=f"meter: {METERS.get(feel, '4/4')}\nseed: {seed}",
    )
    return play_bass(text.replace("key: D", f"key: {random.choice(KEYS)}"))


def runs(performance: Performance) -> list[tuple[str, Note, list[Note], Note]]:
    """Return (chord, the note before, the approaches, the note after) wherever a line leads."""
    line = struck(performance)
    found = []
    place = 0
    for is_run, group in groupby(line, lambda note: note.origin.role is Role.APPROACH):
        own = list(group)
        if is_run and place > 0 and place + len(own) < len(line):
            chord = sounding_chord(performance, own[0].grid_tick)
            found.append((chord, line[place - 1], own, line[place + len(own)]))
        place += len(own)
    return found


@pytest.mark.parametrize("feel", LEADING_FEELS)
def test_approaches_go_one_way_fit_the_chord_and_arrive_by_a_step(feel: str) -> None:
    notes = far = tritones = 0
    for seed in range(5):
        for chord, before, run, after in runs(song(feel, seed)):
            tones = chord_classes(chord)
            pitches = [note.pitch for note in run]
            distances = [abs(pitch - after.pitch) for pitch in pitches]
            assert 1 <= distances[-1] <= 2
            assert len({pitch > after.pitch for pitch in pitches}) == 1, (feel, chord, pitches)
            steps = [first - second for first, second in pairwise([*distances, 0])]
            assert all(step in (1, 2) for step in steps), (feel, chord, pitches)
            for pitch in pitches:
                assert not is_wrong_third(pitch, chord, tones), (feel, chord, pitches)
            size = abs(pitches[0] - before.pitch)
            assert size <= 12
            assert min(before.pitch, *pitches) >= LOWEST
            inside = {pitches[0] % 12, before.pitch % 12} <= tones | {root_class(chord)}
            tritones += size == 6 and not inside
            far += size > 7
            notes += len(run)
    assert notes >= 10
    # A lowest string leaves a few with nothing nearer.
    assert far * 8 <= notes
    assert tritones * 50 <= notes


def is_wrong_third(pitch: int, chord: str, tones: frozenset[int]) -> bool:
    """Return whether a note is the major third over a minor one, or the other way round."""
    head = chord.partition("/")[0]
    root = root_class(head)
    thirds = {(root + 3) % 12, (root + 4) % 12}
    return len(thirds & tones) == 1 and pitch % 12 in thirds - tones


def test_a_phrase_end_from_e_to_a_climbs_the_key() -> None:
    # The chromatic G would be heard as E minor: E F# G# A, the key's own way.
    text = "key: A\nfeel: sixteenths\nfills: none\na:\n| A | D | E | E | A | D |\n"
    line = struck(play_bass(text))
    end = [note.pitch % 12 for note in line if 3 * BAR + 3000 < note.grid_tick <= 4 * BAR]
    assert end == [11, 6, 8, 9]


def test_a_bar_of_approaches_alone_arrives_too() -> None:
    """A cell of somebody's own with twelve approaches a bar, of which the last four are a run."""
    approaches = " ".join(["R", "- - -", *[">*"] * 12])
    cell = {**BASS, "name": "long way", "slots_per_beat": 4, "steps": approaches}
    cell["levels"] = " ".join(["9", ". . .", *["6"] * 12])
    library = library_from([("bass", "own/long-way.toml", cell)], LIBRARY)
    text = chart({"a": ["D", "A", "Eb7", "C"]}, head="bass: long way")
    line = struck(perform_chart(text, library, TIGHT))
    pitches = [note.pitch for note in line if note.grid_tick <= 3 * BAR]
    assert len(pitches) == 3 * 13 + 1
    for first in (13, 26, 39):
        goal = pitches[first]
        distances = [abs(pitch - goal) for pitch in pitches[first - 4 : first]]
        assert distances == sorted(distances, reverse=True)
        assert distances[-1] in (1, 2)


def shuffled(performance: Performance) -> list[tuple[str, list[Note]]]:
    """Return the chord and the strokes of every bar whose bass climbs to its third pulse."""
    line = struck(performance)
    bars = [
        (bar.chords[0].symbol, [n for n in line if 0 <= n.grid_tick - bar.start_tick <= BAR])
        for bar in performance.bars
        if len(bar.chords) == 1
    ]
    return [
        (chord, own)
        for chord, own in bars
        if len(own) == 9 and own[0].pitch < own[2].pitch < own[4].pitch
    ]


def test_a_climb_does_not_fall_off_its_top() -> None:
    """R 3 5 6 or 7 goes on up, or back to its root or by a fifth at most."""
    climbs = falls = 0
    for seed in range(12):
        for chord, own in shuffled(song("shuffle", seed)):
            climbs += 1
            is_root = own[6].pitch % 12 == root_class(chord)
            falls += own[4].pitch - own[6].pitch > 7 and not is_root
            assert abs(own[7].pitch - own[8].pitch) <= 12, (seed, chord)
            assert is_root or own[6].origin.role is not Role.ROOT
    assert climbs > 36
    # A chord whose root comes again at once may leave nothing better.
    assert falls * 100 <= climbs


@pytest.mark.parametrize(
    ("bars", "climb"),
    [
        ("| D | Dm6 | E7 | A |", "D D F F A A D D"),
        ("| D | C#m7 | F#m | A |", "C# C# E E G# G# C# C#"),
        ("| D | Bm7 | E7 | A |", "B B D D F# F# B B"),
        ("| A | D | Bm7 | A |", "D D F# F# A A B B"),
    ],
)
def test_a_climb_whose_top_has_no_way_on_goes_back_to_its_root(bars: str, climb: str) -> None:
    letters = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    performance = play_bass(f"key: A\nfeel: shuffle\nfills: none\nverse:\n{bars}\n")
    own = [note.pitch for note in struck(performance) if BAR <= note.grid_tick < 2 * BAR]
    assert " ".join(letters[pitch % 12] for pitch in own) == climb
    assert max(abs(after - before) for before, after in pairwise(own)) <= 7


def test_a_two_beat_walk_goes_by_steps_and_none_is_wider_than_a_fifth() -> None:
    moves = 0
    for seed in range(20):
        performance = song("two-beat", seed)
        starts = {bar.ref.bar_in_section: bar.start_tick for bar in performance.bars[:8]}
        line = struck(performance)
        for number in (4, 8):
            start = starts[number] + BAR // 2
            end = [note.pitch for note in line if start <= note.grid_tick <= starts[number] + BAR]
            if len(end) == 5:
                moves += 4
                assert all(abs(b - a) <= 8 for a, b in pairwise(end)), (seed, end)
                assert all(abs(b - a) <= 7 for a, b in pairwise(end[1:])), (seed, end)
    assert moves > 100


@pytest.mark.parametrize(
    "feel", ["sixteenths", "straight eighths", "shuffle", "waltz", "soul"], scope="module"
)
def test_a_fill_sings(feel: str) -> None:
    """Steps, thirds to fifths and the octave; a tritone between chord tones alone."""
    moves = 0
    for seed in range(16):
        performance = song(feel, seed, "many")
        line = struck(performance)
        for before, after in pairwise(line):
            if before.origin.role is Role.FILL:
                size = abs(after.pitch - before.pitch)
                chord = sounding_chord(performance, before.grid_tick)
                tones = chord_classes(chord)
                assert 0 < size <= 7 or size == 12, (feel, seed, before, after)
                assert size != 6 or {before.pitch % 12, after.pitch % 12} <= tones
                assert not is_wrong_third(before.pitch, chord, tones)
                moves += 1
    assert moves >= 16


@pytest.mark.parametrize(
    "feel", ["sixteenths", "straight eighths", "shuffle", "waltz", "two-beat"], scope="module"
)
def test_a_fill_begins_on_its_root_or_a_chord_tone_near_the_line(feel: str) -> None:
    fills = far = 0
    for seed in range(40):
        performance = song(feel, seed, "many")
        for before, first in pairwise(struck(performance)):
            if first.origin.role is Role.FILL is not before.origin.role:
                chord = sounding_chord(performance, first.grid_tick)
                is_root = first.pitch % 12 == root_class(chord)
                assert is_root or first.pitch % 12 in chord_classes(chord)
                fills += 1
                far += not is_root and abs(first.pitch - before.pitch) > 5
    assert fills >= 26
    # Where the hand holds nothing nearer.
    assert far * 8 <= fills, (far, fills)


def test_a_fill_into_the_same_root_walks_to_it() -> None:
    # A major by its printed scale; from a chord tone by steps to the root.
    scale = {9, 11, 1, 2, 4, 6, 8}
    fills = 0
    for seed in range(8):
        sections = {f"part {n}": ["A", "D", "E", "A"] for n in range(6)}
        text = chart(sections, fills="few", head=f"seed: {seed}").replace("key: D", "key: A")
        line = struck(play_bass(text))
        for before, after in pairwise(line):
            if before.origin.role is Role.FILL:
                assert before.pitch != after.pitch
                assert before.pitch % 12 in scale
                assert before.origin.reason
                assert before.origin.reason.rule is PitchRule.SCALE_RUN
                if after.origin.role is not Role.FILL:
                    assert 1 <= abs(after.pitch - before.pitch) <= 2
                    fills += 1
    assert fills > 8


TUNE = ("| C | Am7 | Dm7 | G7 |", "| F | C/E | Dm7 | G |")


def test_tumbao_leans_into_every_section_and_ends_at_home() -> None:
    sections = f"verse:\n{TUNE[0]}\nchorus:\n{TUNE[1]}\nend:\n| C | C |\n"
    text = f"key: C\nfeel: tumbao\nfills: none\n{sections}"
    performance = play_bass(text)
    line = struck(performance)
    for bar, root in ((4, 5), (8, 0)):
        held = [n for n in line if n.grid_tick < bar * BAR < n.grid_tick + n.written_ticks]
        assert [note.pitch % 12 for note in held] == [root]
        assert bar * BAR not in {note.grid_tick for note in line}
    assert [note.pitch % 12 for note in line if note.grid_tick >= 9 * BAR] == [0]
    # Every bar but the first and the last is reached early.
    assert sum(note.grid_tick % BAR == 0 for note in line) == 2


def test_a_push_of_the_chart_stands_above_the_tumbaos_own() -> None:
    text = "key: C\nfeel: tumbao\nfills: none\na:\n| C | Am | <F | G | C |\n"
    line = struck(play_bass(text))
    # A beat before the bar line the tumbao would have the F that comes an eighth before it.
    ends = {n.grid_tick - BAR: n.pitch % 12 for n in line if BAR + 2400 < n.grid_tick <= 2 * BAR}
    assert ends == {2880: 9, 3360: 5}


def test_a_waltz_of_many_chords_steps_into_every_second_one() -> None:
    bars = ["C", "Am", "Dm", "G", "C", "F", "G7", "C", "Em", "Am", "D7", "G"]
    text = (
        "key: C\nmeter: 3/4\nfeel: waltz\nfills: none\na:\n| " + " | ".join([*bars, "C"]) + " |\n"
    )
    line = struck(play_bass(text))
    bar_ticks = 2880
    for number, symbol in enumerate(bars):
        own = [n for n in line if number * bar_ticks <= n.grid_tick < (number + 1) * bar_ticks]
        assert own[0].pitch % 12 == root_class(symbol)
        # The last of a phrase walks in three.
        assert len(own) == (1, 2, 1, 3)[number % 4]
        if number % 2:
            after = next(n for n in line if n.grid_tick == (number + 1) * bar_ticks)
            assert own[-1].grid_tick % bar_ticks == 1920
            assert 1 <= abs(own[-1].pitch - after.pitch) <= 2


def test_seven_eight_steps_into_every_second_bar() -> None:
    bars = ["C", "Am", "Dm", "G", "C", "F", "G7", "C"]
    text = "key: C\nmeter: 7/8\nfeel: seven-eight\nfills: none\na:\n| " + " | ".join(bars) + " |\n"
    line = struck(play_bass(text))
    bar_ticks = 3360
    for number in (2, 4, 6):
        last, first = (
            next(n for n in line if n.grid_tick == tick)
            for tick in (number * bar_ticks - 480, number * bar_ticks)
        )
        assert 1 <= abs(last.pitch - first.pitch) <= 2


def test_one_drop_has_its_root_on_the_drop_and_leaves_the_head_of_every_second_bar() -> None:
    compared = 0
    for seed in range(10):
        random = Random(seed)
        bars = progression(random, 8, qualities=("", "m", "m7", "7"))
        performance = play_bass(chart({"verse": [*bars, "C"]}, feel="one drop"))
        for number, symbol in enumerate(bars):
            own = {
                (n.grid_tick - number * BAR) // 240: n.pitch % 12
                for n in struck(performance)
                if number * BAR <= n.grid_tick < (number + 1) * BAR
            }
            root = root_class(symbol)
            # Slots 4 and 12 are the drop, where kick and rim fall.
            assert own[4] == root
            assert 12 in own
            if number % 2:
                assert 0 not in own
            else:
                assert own[0] == root
            if number % 4 == 1:
                assert own[12] == root, (seed, number)
            compared += 1
    assert compared == 80


def test_straight_eighths_lift_a_chorus_by_an_octave_and_stay_on_roots() -> None:
    bars = "| D | G | A | Bm | D | G | A | D |"
    text = (
        f"key: D\nfeel: straight eighths\nfills: none\nverse:\n{bars}\npre-chorus:\n{bars}\n"
        f"chorus:\n{bars}\nend:\n| D |\n"
    )
    lifts: dict[str, int] = {}
    for note in struck(play_bass(text)):
        section = note.origin.bar.section
        lifts[section] = lifts.get(section, 0) + (note.origin.role is Role.OCTAVE)
        if note.origin.role not in (Role.FIFTH, Role.THIRD, Role.APPROACH):
            assert note.pitch % 12 == root_class(note.origin.symbol[:1])
    # Eight bars, an octave in each.
    assert lifts == {"verse": 0, "pre-chorus": 0, "chorus": 8, "end": 0}
