"""The keys through a song: broken chords, voicings, density by section, room for the bass.

All of it is common practice, no source; chord tones are counted by hand.
"""

from collections import defaultdict
from itertools import pairwise

import pytest

from groove.events import Note, Part, Performance, Role
from tests.arrange.songs import LIBRARY, METERS, play_keys

FORM = "verse, chorus, verse, chorus, bridge, chorus"
SWUNG = (
    *("walking", "swing in two", "jazz waltz", "shuffle"),
    *("half-time shuffle", "slow twelve-eight", "gospel twelve-eight"),
)
BROKEN = ("ballad", "six-eight", "bolero")


def song(feel: str, rows: str, *, form: str = FORM, head: str = "") -> Performance:
    """Return a song whose sections all have these bars."""
    names = dict.fromkeys(name.split()[0] for name in form.split(", "))
    sections = "".join(f"{name}:\n| {rows} |\n" for name in names)
    meter = METERS.get(feel, "4/4")
    text = f"tempo: 100\nmeter: {meter}\nkey: D\nfeel: {feel}\n{head}\n{sections}form: {form}\n"
    return play_keys(text)


def strokes(performance: Performance) -> dict[int, list[Note]]:
    """Return the notes of the keys by where they are struck, in order."""
    found: dict[int, list[Note]] = defaultdict(list)
    for note in performance.part_notes(Part.KEYS):
        found[note.grid_tick].append(note)
    return dict(sorted(found.items()))


EIGHT = "D | G | Bm7 | A7 | D/F# | G | Em7 | A"


@pytest.mark.parametrize("feel", BROKEN)
def test_broken_chords_have_four_voices_and_no_top_three_times_running(feel: str) -> None:
    """In bars of one note at a time: the chord's own tones, four pitches of them."""
    bars = 0
    for transpose in (0, 3, 5):
        performance = song(
            feel, "D | G | Bm | Em | A | F#m | G | D", head=f"transpose: {transpose}"
        )
        by_bar: dict[int, list[tuple[int, ...]]] = defaultdict(list)
        for notes in strokes(performance).values():
            by_bar[notes[0].origin.bar.played_bar].append(tuple(sorted(n.pitch for n in notes)))
        for number, own in by_bar.items():
            tops = [pitches[-1] for pitches in own]
            assert not any(a == b == c for a, b, c in zip(tops, tops[1:], tops[2:], strict=False))
            if number < len(performance.bars) and len(own) >= 6:
                assert len({pitch for pitches in own for pitch in pitches}) >= 4, own
                bars += 1
    assert bars >= 60


def test_a_chord_and_its_inversion_are_not_voiced_alike() -> None:
    """The same three notes over another bass: D with D/F#, Am with Am/C, G7 with G7/B."""
    compared = 0
    rows = "D | D/F# | G | G/B | Am | Am/C | D | D/F# | G7 | G7/B | Em | Em/G"
    for feel in ("straight eighths", "half-time", "two-beat", "soul", "sixteenths"):
        performance = song(feel, rows)
        voiced: dict[int, frozenset[int]] = {}
        for tick, notes in strokes(performance).items():
            played = notes[0].origin.bar.played_bar
            voiced.setdefault(played, frozenset(n.pitch for n in notes))
            assert tick >= performance.bars[played - 1].start_tick
        for bar in performance.bars[:-1]:
            number = bar.ref.bar_in_section
            if number % 2 == 1:
                assert voiced[bar.ref.played_bar] != voiced[bar.ref.played_bar + 1], (feel, number)
                compared += 1
    assert compared >= 5 * 35


POP = (
    *("straight eighths", "half-time", "driving eighths", "sixteenths", "broken sixteenths"),
    *("octaves", "soul", "two-beat", "waltz", "slow twelve-eight", "one-chord funk"),
)


def per_bar(performance: Performance, section: str, occurrence: int) -> float:
    """Return how many notes the keys strike in a bar of a section."""
    bars = [
        bar.ref.played_bar
        for bar in performance.bars[:-1]
        if (bar.ref.section, bar.ref.occurrence) == (section, occurrence)
    ]
    own = [n for n in performance.part_notes(Part.KEYS) if n.origin.bar.played_bar in bars]
    return len(own) / len(bars)


@pytest.mark.parametrize("feel", POP)
def test_the_chorus_is_denser_than_the_verse(feel: str) -> None:
    performance = song(feel, EIGHT)
    verse, chorus = (per_bar(performance, name, 1) for name in ("verse", "chorus"))
    assert chorus >= 1.15 * verse, (verse, chorus)


def test_a_verse_has_three_notes_a_chord_and_a_chorus_four_and_higher() -> None:
    """Chords of five notes, the root left to the bass; the chorus begins some semitones higher."""
    rows = "Dmaj9 | Gmaj9 | Em9 | A9"
    for feel in ("straight eighths", "half-time", "two-beat", "sixteenths"):
        performance = song(feel, rows)
        sizes: dict[str, set[int]] = {"verse": set(), "chorus": set()}
        firsts: dict[str, float] = {}
        for notes in strokes(performance).values():
            ref = notes[0].origin.bar
            if ref.section in sizes and ref.occurrence == 1:
                sizes[ref.section].add(len(notes))
                firsts.setdefault(ref.section, sum(n.pitch for n in notes) / len(notes))
        assert sizes == {"verse": {3}, "chorus": {4}}, feel
        assert firsts["chorus"] >= firsts["verse"] + 1, feel


def test_a_held_chord_of_a_chorus_is_struck_again_in_half_bars_but_not_after_its_push() -> None:
    song_text = "tempo: 100\nkey: D\nfeel: straight eighths\nfills: none\n"
    rows = "| D | <G | A | D |"
    performance = play_keys(f"{song_text}verse:\n{rows}\nchorus:\n{rows}\nend:\n| D |\n")
    ticks = sorted({note.grid_tick for note in performance.part_notes(Part.KEYS)})
    verse, chorus = ([t - at for t in ticks if at <= t < at + 4 * 3840] for at in (0, 4 * 3840))
    assert verse == [0, 3840 - 480, 2 * 3840, 3 * 3840]
    assert chorus == [0, 1920, 3360, 3840 + 1920, 7680, 7680 + 1920, 11520, 11520 + 1920]


def test_a_breakdown_is_held() -> None:
    for feel in ("sixteenths", "octaves", "shuffle"):
        performance = song(feel, EIGHT, form="verse, breakdown, verse")
        held = [
            note
            for note in performance.part_notes(Part.KEYS)
            if note.origin.bar.section == "breakdown"
        ]
        assert len(held) >= 24
        assert {note.grid_tick % 3840 for note in held} == {0}
        assert min(note.written_ticks for note in held) == 3840


def test_the_keys_leave_a_hole_where_the_bass_fills() -> None:
    fills = silent = 0
    for feel in LIBRARY.feels:
        performance = song(feel, EIGHT, form="verse, chorus, verse", head="fills: many")
        starts: dict[int, int] = {}
        for note in performance.part_notes(Part.BASS):
            if note.origin.role is Role.FILL:
                starts.setdefault(note.origin.bar.played_bar, note.grid_tick)
        changes = {
            bar.start_tick + onset.sounding_tick for bar in performance.bars for onset in bar.chords
        }
        struck = strokes(performance)
        for bar, start in starts.items():
            end = performance.bars[bar - 1].end_tick
            inside = [tick for tick in struck if start <= tick < end and tick not in changes]
            assert inside == [], (feel, bar)
            fills += 1
            silent += not any(start <= tick < end for tick in struck)
    assert fills >= 60
    assert silent >= fills * 0.9


def test_the_keys_do_not_double_the_octaves_of_the_bass() -> None:
    compared = 0
    for feel in ("octaves", "sixteenths", "broken sixteenths", "half-time", "one drop"):
        performance = song(feel, EIGHT)
        struck = strokes(performance)
        for note in performance.part_notes(Part.BASS):
            if note.origin.role is Role.OCTAVE and note.grid_tick in struck:
                classes = {other.pitch % 12 for other in struck[note.grid_tick]}
                assert note.pitch % 12 not in classes, (feel, note)
                compared += 1
    assert compared >= 60


@pytest.mark.parametrize("feel", SWUNG)
def test_a_swung_chorus_is_comped_in_three_rhythms_at_least(feel: str) -> None:
    rows = "D7 | G7 | D7 | D7 | G7 | G7 | D7 | B7 | Em7 | A7 | D7 | A7"
    performance = song(feel, rows, form="song x3", head="fills: none")
    rhythms: dict[int, dict[int, set[int]]] = defaultdict(lambda: defaultdict(set))
    for tick, notes in strokes(performance).items():
        bar = performance.bars[notes[0].origin.bar.played_bar - 1]
        rhythms[bar.ref.occurrence][bar.ref.bar_in_section].add(tick - bar.start_tick)
    for occurrence, bars in rhythms.items():
        assert len({frozenset(ticks) for ticks in bars.values()}) >= 3, occurrence
    assert len(rhythms) == 3


def test_a_jazz_pianist_comps_another_way_each_chorus() -> None:
    rows = "Dm7 | G7 | Cmaj7 | A7"
    performance = song("walking", rows, form="song x4", head="fills: none")
    orders = defaultdict(list)
    for tick, notes in strokes(performance).items():
        bar = performance.bars[notes[0].origin.bar.played_bar - 1]
        orders[bar.ref.occurrence].append(tick - bar.start_tick + bar.ref.bar_in_section * 3840)
    assert len({tuple(order) for order in orders.values()}) >= 3
    same = song("walking", rows, form="song x4", head="fills: none\nvary: none")
    plain = [
        tick - same.bars[notes[0].origin.bar.played_bar - 1].start_tick
        for tick, notes in strokes(same).items()
        if notes[0].origin.bar.occurrence == 1
    ]
    again = [
        tick - same.bars[notes[0].origin.bar.played_bar - 1].start_tick
        for tick, notes in strokes(same).items()
        if notes[0].origin.bar.occurrence == 2
    ]
    assert plain == again and len(plain) >= 6


def test_soul_is_held_high_in_the_verse_and_chopped_on_2_and_4_in_the_chorus() -> None:
    performance = song("soul", EIGHT, head="fills: none")
    verse = [n for n in performance.part_notes(Part.KEYS) if n.origin.bar.section == "verse"]
    assert sum(n.pitch for n in verse) / len(verse) >= 62
    long = [n for n in verse if n.written_ticks >= 1920]
    assert len(long) >= 0.6 * len(verse)
    chorus = [
        n.grid_tick % 3840
        for n in performance.part_notes(Part.KEYS)
        if n.origin.bar.section == "chorus" and n.origin.bar.occurrence < 3
    ]
    assert set(chorus) == {960, 2880}
    assert len(chorus) >= 60


def test_keys_that_a_player_wrote_are_played_as_written() -> None:
    own = "keys heron:\n  9 - - - . . 5 - . . . . 5 - - - |\n"
    body = (
        "verse:\nkeys: heron\n| D | G |\nbreakdown:\nkeys: heron\n| D | G |\nchorus:\nkeys: heron\n"
    )
    performance = play_keys(f"tempo: 100\nkey: D\nfeel: sixteenths\n{own}{body}| D | G | D |\n")
    for bar in performance.bars[:-1]:
        ticks = {
            n.grid_tick - bar.start_tick
            for n in performance.part_notes(Part.KEYS)
            if n.origin.bar.played_bar == bar.ref.played_bar
        }
        assert ticks == {0, 6 * 240, 12 * 240}, bar.ref
    assert len(performance.bars) == 7


def test_a_top_line_does_not_stand_still_from_bar_to_bar() -> None:
    """Least movement holds common tones; two different chords never have all of them."""
    compared = 0
    for feel in ("straight eighths", "soul", "waltz"):
        performance = song(feel, "D | G | A | Bm | Em | F#m | G | A")
        shapes = [
            frozenset(note.pitch for note in notes)
            for notes in strokes(performance).values()
            if len(notes) >= 3
        ]
        symbols = [
            notes[0].origin.symbol for notes in strokes(performance).values() if len(notes) >= 3
        ]
        for (a, one), (b, two) in pairwise(zip(shapes, symbols, strict=True)):
            if one != two:
                assert a != b
                compared += 1
    assert compared >= 100
