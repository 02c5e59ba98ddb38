"""The bass part: roots on changes, what else may sound, register, leaps, ghosts, rhythm.

The rules are common practice, no source; chord tones are judged by mir_eval.
"""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groove.cells.library import library_from
from groove.events import Bar, Note, Part, Performance, Role, Touch
from groove.neck.instrument import TUNINGS
from groove.pipeline import PerformOptions, perform_chart
from tests.arrange.songs import (
    LIBRARY,
    ODD,
    PLAIN,
    TIGHT,
    bars,
    bass,
    chart,
    charts,
    charts_in_their_meter,
    play,
    play_bass,
    play_drums,
    play_keys,
    play_rhythm,
    struck,
)
from tests.cells.cell_lines import BASS
from tests.mir_judge import chord as chord_judge

STANDARD_LOWEST, TWELFTH_FRET_ON_G = 28, 55  # E1, and G2 + 12 (Open strings of a four-string)
NOTE_CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def name_class(name: str) -> int:
    """Return the pitch class of a note name, worked out from its letter and signs."""
    return (NOTE_CLASSES[name[0]] + name.count("#") - name[1:].count("b")) % 12


def bass_class(symbol: str) -> int:
    """Return what the bass plays under a symbol: the note after the slash, else the root."""
    _head, slash, tail = symbol.rpartition("/")
    name = tail if slash and tail[0] in NOTE_CLASSES else symbol
    return name_class(name[:2] if name[1:2] in ("#", "b") else name[:1])


def changes(performance: Performance) -> Iterator[tuple[Bar, int, str]]:
    """Yield (bar, tick, symbol) wherever another chord begins."""
    before = None
    for bar in performance.bars:
        for onset in bar.chords:
            if onset.symbol != before:
                yield bar, bar.start_tick + onset.tick, onset.symbol
            before = onset.symbol


@given(charts())
def test_chords_begin_on_their_root_in_the_low_octaves_and_ghosts_lie_under_the_hand(
    text: str,
) -> None:
    performance = play_bass(text)
    line = bass(performance)
    assert len(line) >= 3
    each_chord_begins_on_its_root_or_slash_note(performance)
    # On a four-string, under the twelfth fret.
    kept = [note.pitch for note in line if note.origin.time_keeping]
    assert min(kept) >= STANDARD_LOWEST and max(kept) <= TWELFTH_FRET_ON_G
    for before, after in pairwise(line):
        if after.touch is Touch.GHOST:
            assert after.pitch == before.pitch
            assert after.origin.symbol == before.origin.symbol


def each_chord_begins_on_its_root_or_slash_note(performance: Performance) -> None:
    line = bass(performance)
    spans = [*changes(performance)]
    ends = [tick for _, tick, _ in spans[1:]] + [performance.end_tick]
    checked = 0
    for (_, start, symbol), end in zip(spans, ends, strict=True):
        if symbol == "N.C.":
            continue
        own = [note for note in line if start <= note.grid_tick < end and is_of(note, symbol)]
        pushed = [
            note
            for note in line
            if note.origin.pushed_ticks and start - 480 <= note.grid_tick < start
        ]
        if pushed:
            assert pushed[-1].pitch % 12 == bass_class(symbol)
        elif own:
            assert own[0].pitch % 12 == bass_class(symbol)
            assert own[0].touch is not Touch.GHOST
        checked += 1
    assert checked > 0


def is_of(note: Note, symbol: str) -> bool:
    """Return whether a note was made for a chord, not ahead for the next one."""
    return note.origin.symbol == symbol


@given(
    st.lists(st.sampled_from(PLAIN), min_size=4, max_size=12),
    st.sampled_from(("sixteenths", "octaves")),
)
def test_root_fifth_octave_cells_have_no_other_pitch_class(
    progression: list[str], feel: str
) -> None:
    # Plain chords have a perfect fifth by mir_eval's bitmaps.  Every second bar answers.
    performance = play_bass(chart({"verse": progression}, feel=feel))
    checked = 0
    for note in struck(performance):
        leads = note.origin.role in (Role.APPROACH, Role.FILL)
        if leads or note.origin.target_pitch is not None or note.origin.bar.bar_in_section % 2 == 0:
            continue
        root = bass_class(note.origin.symbol)
        assert chord_judge.quality_to_bitmap("5")[7] == 1
        assert (note.pitch - root) % 12 in (0, 7)
        checked += 1
    assert checked >= 4 * ((len(progression) + 1) // 2) - 8


@pytest.mark.parametrize(
    ("symbol", "fifth"),
    [("C°7", 6), ("Caug", 8), ("Bm7b5", 6), ("C7b5", 6), ("C", 7), ("Gsus4", 7)],
)
def test_the_fifth_is_the_chords_own(symbol: str, fifth: int) -> None:
    # Diminished and augmented fifths: mir_eval's bitmaps of dim, aug, hdim7 (C. Harte et al. 2005).
    judged = {"C°7": "dim7", "Caug": "aug", "Bm7b5": "hdim7", "C": "maj", "Gsus4": "sus4"}
    if symbol in judged:
        assert chord_judge.quality_to_bitmap(judged[symbol])[fifth] == 1
    performance = play_bass(chart({"verse": [symbol, symbol, "D"]}))
    fifths = [
        n for n in struck(performance) if n.origin.role is Role.FIFTH and n.origin.symbol == symbol
    ]
    assert len(fifths) >= 2
    assert {(note.pitch - bass_class(symbol)) % 12 for note in fifths} == {fifth}


@pytest.mark.parametrize(
    ("symbol", "fifth_class"),
    [("D/F#", 9), ("A/C#", 4), ("D/A", 2), ("C/Bb", 7), ("Am/G", 4), ("C/F#", 0)],
)
def test_over_a_slash_chord_the_fifth_is_the_chords(symbol: str, fifth_class: int) -> None:
    # By the cells' own rule: the chord's fifth, its root where the fifth is the slash note, never
    # a second from the bass (C/F#: G would be one).
    performance = play_bass(chart({"verse": [symbol, symbol, "D"]}))
    fifths = [
        n for n in struck(performance) if n.origin.role is Role.FIFTH and n.origin.symbol == symbol
    ]
    assert len(fifths) >= 2
    assert {note.pitch % 12 for note in fifths} == {fifth_class}


@given(charts_in_their_meter())
def test_no_feel_goes_below_the_lowest_string_or_leaps_over_an_octave(text: str) -> None:
    """Fills may leap."""
    line = bass(play_bass(text))
    assert len(line) >= 3
    assert min(note.pitch for note in line) >= STANDARD_LOWEST
    for before, after in pairwise(line):
        if before.origin.time_keeping and after.origin.time_keeping:
            assert abs(after.pitch - before.pitch) <= 12


@given(bars, st.sampled_from(("sixteenths", "octaves", "straight eighths")))
def test_the_first_and_third_bar_of_a_phrase_are_one_rhythm_and_the_second_but_for_its_end(
    progression: list[str], feel: str
) -> None:
    performance = play_bass(chart({"verse": (progression * 2)[:8], "end": ["D"]}, feel=feel))
    rhythms: dict[int, list[tuple[int, bool]]] = {}
    for note in bass(performance):
        bar = note.origin.bar
        start = performance.bars[bar.played_bar - 1].start_tick
        rhythms.setdefault(bar.played_bar, []).append(
            (note.grid_tick - start, note.touch is Touch.GHOST)
        )
    assert rhythms[1] == rhythms[3] == rhythms[5] == rhythms[7]
    assert rhythms[2] == rhythms[6]
    answered, asked = ([stroke for stroke in rhythms[bar] if stroke[0] < 3 * 960] for bar in (2, 1))
    assert answered == asked


def test_a_chord_that_changes_inside_a_bar_is_struck_on_its_beat() -> None:
    performance = play_bass(chart({"verse": ["D / / A", "G A", "D"]}))
    by_tick = {note.grid_tick: note.pitch % 12 for note in struck(performance)}
    assert by_tick[3 * 960] == 9
    assert by_tick[4 * 960] == 7
    assert by_tick[6 * 960] == 9


def test_a_push_sounds_an_eighth_early_and_is_tied_over() -> None:
    performance = play_bass(chart({"verse": ["D", "<G", "D", "D"]}))
    pushed = [note for note in struck(performance) if note.origin.pushed_ticks]
    assert [note.grid_tick for note in pushed] == [4 * 960 - 480]
    assert pushed[0].pitch % 12 == 7
    assert pushed[0].grid_tick + pushed[0].written_ticks > 4 * 960
    assert 4 * 960 not in {note.grid_tick for note in bass(performance)}
    assert pushed[0].origin.bar.played_bar == 1


def test_a_sixteenth_push_and_a_push_at_the_songs_start() -> None:
    # Long notes strike nothing between chords, so the early stroke can only be the push.
    head = "bass: long notes"
    performance = play_bass(chart({"verse": ["<D", "<<G", "A", "D"]}, head=head))
    assert [note.grid_tick for note in struck(performance)] == [
        0,
        4 * 960 - 240,
        2 * 3840,
        3 * 3840,
    ]


@pytest.mark.parametrize(
    ("first", "second", "approach"),
    [("D", "G", 32), ("G", "D", 37), ("E", "F#", 28), ("A", "G", 33), ("F#m", "Em", 30)],
)
def test_an_approach_comes_from_the_side_the_line_is_moving(
    first: str, second: str, approach: int
) -> None:
    # Common practice, no source: a step of D major into the next root, from
    # below when the line moves up, from above when it moves down or the next root is the lowest
    # note.  Roots on four strings: D2 38, G1 31, E1 28, F#1 30, A1 33.  From D to G the fifth
    # before it is A1 itself: the line goes on from there by the half step.
    text = chart({"verse": [first, first, first, first, second]}, feel="straight eighths")
    performance = play_bass(text)
    led = [n for n in struck(performance) if n.origin.role is Role.APPROACH]
    assert [note.pitch for note in led[-1:]] == [approach]


def test_no_chord_is_silence() -> None:
    performance = play(chart({"verse": ["D", "N.C.", "G", "D"]}))
    silent = [
        n for n in performance.notes if n.part in ("bass", "keys") and 3840 < n.grid_tick < 7680
    ]
    assert silent == []
    assert any(n.part == "drums" and 3840 < n.grid_tick < 7680 for n in performance.notes)


def test_hold_stop_and_the_last_bar() -> None:
    performance = play(chart({"verse": ["(hold) D", "(stop) G", "A", "D"]}))
    lines = {
        bar: [n for n in bass(performance) if n.origin.bar.played_bar == bar] for bar in (1, 2, 4)
    }
    assert [(n.grid_tick, n.written_ticks) for n in lines[1]] == [(0, 3840)]
    assert [(n.grid_tick, n.written_ticks) for n in lines[2]] == [(3840, 480)]
    assert [(n.grid_tick, n.written_ticks) for n in lines[4]] == [(3 * 3840, 3840)]
    drums = [
        n.grid_tick for n in performance.notes if n.part == "drums" and n.grid_tick >= 3 * 3840
    ]
    assert set(drums) == {3 * 3840}


def test_long_notes_are_one_note_a_chord() -> None:
    text = chart({"intro": ["D", "A/C#", "Bm7 G", "G"], "end": ["D"]}, head="bass: long notes")
    line = [note for note in bass(play_bass(text)) if note.origin.bar.section == "intro"]
    assert [(n.grid_tick, n.pitch % 12) for n in line] == [
        (0, 2),
        (3840, 1),
        (2 * 3840, 11),
        (2 * 3840 + 1920, 7),
        (3 * 3840, 7),
    ]


def test_a_part_that_is_out_is_silent() -> None:
    text = chart({"verse": ["D", "G"], "end": ["D"]}, head="keys: out")
    assert {note.part.value for note in play(text).notes} == {"bass", "drums"}


@given(st.lists(st.sampled_from(PLAIN + ODD), min_size=5, max_size=9))
def test_a_walking_line_moves_on_every_beat(progression: list[str]) -> None:
    performance = play_bass(chart({"verse": progression}, feel="walking"))
    line = [n for n in struck(performance) if n.origin.bar.played_bar < len(progression)]
    beats = [note for note in line if note.grid_tick % 960 == 0]
    assert len(beats) == 4 * (len(progression) - 1)
    for before, after in pairwise(beats):
        assert before.pitch != after.pitch
    firsts = [note for note in beats if note.grid_tick % 3840 == 0]
    assert [n.pitch % 12 for n in firsts] == [bass_class(symbol) for symbol in progression[:-1]]


@pytest.mark.parametrize("tuning", ["five", "drop D", "half step down"])
def test_the_line_follows_the_tuning(tuning: str) -> None:
    # Lowest open strings: shared/tables/tunings.toml (B0 = 23, D1 = 26, Eb1 = 27).
    lowest = {"five": 23, "drop D": 26, "half step down": 27}[tuning]
    text = chart({"verse": ["Eb", "B", "D", "E", "G", "A"]}, head=f"tuning: {tuning}")
    pitches = [note.pitch for note in struck(play_bass(text))]
    assert lowest <= min(pitches) <= lowest + 1


def test_the_bass_in_hand_moves_no_note_that_it_has() -> None:
    # Lowest open strings: four 28, five 23, drop D 26, half a step down 27.
    bars = ["Eb", "B", "D", "E", "G", "A"]
    plain = [n.pitch for n in bass(play_bass(chart({"verse": bars})))]
    for name in ("five", "six", "drop D", "tenor five", "half step down"):
        for options in (
            PerformOptions(tight=True, tuning=TUNINGS[name]),
            PerformOptions(tight=True, usual_tuning=TUNINGS[name]),
        ):
            assert [n.pitch for n in bass(play_bass(chart({"verse": bars}), options))] == plain
    assert min(plain) == 28


def test_a_bass_that_ends_higher_has_a_part_of_its_own() -> None:
    text = chart({"verse": ["Eb", "B", "D", "E"]}, head="tuning: five")
    four = PerformOptions(tight=True, tuning=TUNINGS["four"])
    assert min(n.pitch for n in bass(play_bass(text))) == 23
    assert min(n.pitch for n in bass(play_bass(text, four))) == 28


def test_options_stand_above_the_chart() -> None:
    text = chart({"verse": ["D", "G", "A", "D"]})
    plain = play_bass(text)
    moved = play_bass(text, PerformOptions(tight=True, transpose=2))
    # Pitch classes move by two; the register is chosen anew.
    firsts = [[n.pitch % 12 for n in struck(p) if n.grid_tick % 3840 == 0] for p in (plain, moved)]
    assert [(pc + 2) % 12 for pc in firsts[0]] == firsts[1]
    faster = play_bass(text, PerformOptions(tight=True, tempo_bpm=Fraction(192)))
    assert faster.length_sec == pytest.approx(plain.length_sec / 2, abs=1e-3)
    other = play_bass(text, PerformOptions(tight=True, feel="octaves"))
    assert {note.origin.cell for note in bass(other)} <= {"octaves"}
    assert PerformOptions(tight=True) == TIGHT


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        # Dm6 has F, F#7 has A#, E7 has G#; Em has G, Am7 has C.
        ("key: A\nfeel: straight eighths\na:\n| D | Dm6 | A/E | E7 |\n", {1: 6}),
        ("key: E\nfeel: straight eighths\na:\n| E | F#7 | B | B |\n", {1: 9}),
        ("key: D\nfeel: straight eighths\na:\n| D | E7 | A | A |\n", {1: 7}),
        ("key: G\nmeter: 6/8\nfeel: six-eight\na:\n| Em | Am7 | D7 | G |\n", {0: 8, 1: 1}),
        ("key: F\nfeel: walking\na:\n| C7 | F7 | Gm7 C7 | F |\n", {2: 11}),
    ],
)
def test_an_approach_is_never_the_other_third(text: str, wrong: dict[int, int]) -> None:
    """Common practice, no source: a major third over a minor chord is heard as another chord."""
    line = bass(play_bass(text))
    assert len(line) >= 3
    for note in line:
        pitch_class = wrong.get(note.origin.bar.played_bar - 1)
        assert pitch_class is None or note.pitch % 12 != pitch_class


def test_a_sixth_that_rubs_is_a_seventh() -> None:
    """Over Gm7 and Cm7 in E flat the key has E flat and A flat, half steps over their fifths."""
    bars = "| Eb | % | Gm7 | % | Cm7 | % | Ab |"
    text = f"key: Eb\nmeter: 12/8\nfeel: slow twelve-eight\nfills: none\na:\n{bars}\n"
    leaned = [note.pitch % 12 for note in bass(play_bass(text)) if note.grid_tick % 11520 == 4320]
    assert leaned == [0, 5, 10]  # the sixth of E flat, then F and B flat; the last bar is held


def test_a_players_own_line_is_played_where_it_is_written() -> None:
    # From D2 (38) the fifth is A2 (45) and the seventh C3 (48), whatever comes after them: E1 (28).
    rows = "riff mine:\nR - 5 - 5 - 7 -\n"
    text = f"key: D\nfills: none\n{rows}\nverse:\n  bass: mine\n  | D7 | E | D7 | E |\n"
    first = [note.pitch for note in struck(play_bass(text)) if note.grid_tick < 3840]
    assert first == [38, 45, 45, 48]


def test_over_a_rest_too_a_line_leaps_no_further_than_it_must() -> None:
    # D2 is 38, its sixth B2 47; to C#2 (37) that is ten half steps, from A#2 (46) to D2 eight: more
    # than a fifth, whether the sixth is held to the bar line or a hole comes after it.
    bars = ["D6", "Db6", "D6", "Db6", "D6"]
    sixths = []
    for steps in ("R - 6 .", "R - 6 -"):
        cell = {**BASS, "name": "sixths", "steps": steps, "levels": "9 . 7 ."}
        library = library_from([("bass", "own/sixths.toml", cell)], LIBRARY)
        text = chart({"verse": bars}, head="bass: sixths")
        line = struck(perform_chart(text, library, TIGHT))
        sixths.append([n.pitch for n in line if n.origin.role is Role.SIXTH][:2])
    # An octave lower they are a step away.
    assert sixths == [[35, 34], [35, 34]]


def test_a_slash_notes_octave_is_not_exchanged_for_a_fifth() -> None:
    # Over A/C# an octave figure is C# alone, down to the lowest goal, E1 (28).
    text = chart({"verse": ["A/C#", "E", "A/C#", "E", "E"]}, feel="octaves")
    first = [note.pitch for note in struck(play_bass(text)) if note.grid_tick < 3840]
    assert len(first) == 9
    assert {pitch % 12 for pitch in first} == {1}


def test_a_line_an_octave_above_its_root_falls_to_the_next() -> None:
    # An approach after the octave of D (50) into E2 comes from above, though E lies above D.
    cell = {**BASS, "name": "falls", "steps": "R - 8 >*", "levels": "9 . 7 6"}
    library = library_from([("bass", "own/falls.toml", cell)], LIBRARY)
    text = chart({"verse": ["E", "G", "E", "G", "G"]}, head="bass: falls")
    line = struck(perform_chart(text, library, TIGHT))
    led = [n for n in line if n.origin.role is Role.APPROACH and n.origin.bar.played_bar == 1]
    # E1 is 28, its octave 40, G1 31: A or Ab over it.
    assert [note.pitch for note in led] in ([33], [32])


def test_bass_and_drums_play_alone_what_they_play_with_the_band() -> None:
    """What most tests of bass and drums hear is what all others hear."""
    compared = 0
    for feel in sorted(LIBRARY.feels)[::4]:
        head = f"meter: {LIBRARY.feels[feel].meter or '4/4'}\nform: verse, chorus, verse, chorus"
        sections = {"verse": ["D", "<G", "A7", "Bm"], "chorus": ["G", "A/C#", "D", "A"]}
        text = chart(sections, feel=feel, fills="many", head=head)
        band, alone, rhythm = play(text), play_bass(text), play_rhythm(text)
        drums = tuple(note for note in band.notes if note.part is Part.DRUMS)
        assert alone.notes == tuple(note for note in band.notes if note.part is Part.BASS)
        assert rhythm.notes == tuple(note for note in band.notes if note.part is not Part.KEYS)
        assert play_drums(text).notes == drums
        assert play_keys(text).notes == tuple(n for n in band.notes if n.part is not Part.DRUMS)
        assert alone.bars == rhythm.bars == band.bars
        compared += len(band.notes) - len(rhythm.notes)
    assert compared > 500
