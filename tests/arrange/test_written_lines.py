"""What a player writes under the bars is what the bass plays, and all around it stays.

Pitches are those of the strings and frets of a four-string, E1 A1 D2 G2 (MIDI 28 33 38 43);
positions are counted by hand, 240 ticks a sixteenth of 960 a quarter.
"""

import io

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groove.cells.model import Library
from groove.events import Maker, Note, Part, Role, Touch
from groove.io.midi import midi_bytes
from groove.pipeline import PerformOptions, perform_chart
from tests.arrange.tabs import tab_rows

TIGHT = PerformOptions(tight=True)
HEAD = "tempo: 96\nkey: D\nfills: none\n"
BAR = 3840


def bass(text: str, library: Library, options: PerformOptions = TIGHT) -> tuple[Note, ...]:
    """Return the bass part of a chart."""
    return perform_chart(text, library, options).part_notes(Part.BASS)


def in_bar(notes: tuple[Note, ...], number: int) -> list[Note]:
    """Return the notes of one played bar, from 1."""
    return [note for note in notes if note.origin.bar.played_bar == number]


def told(note: Note) -> tuple[int, int, int, str]:
    """Return what a page has of a note: tick in its bar, length, pitch, touch."""
    return (note.grid_tick % BAR, note.written_ticks, note.pitch, str(note.touch))


def drawn(note: Note) -> tuple[object, ...]:
    """Return what must stay of a note that the tool draws."""
    return (note.grid_tick, note.written_ticks, note.pitch, note.velocity, note.touch, note.origin)


PICKED = {"A": {0: "2===", 4: "x", 8: "2="}, "D": {6: "0=", 9: "2="}, "E": {12: "3="}}


@pytest.mark.parametrize("feel", ["sixteenths", "walking", "long notes", "shuffle", "tumbao"])
def test_a_written_bar_is_played_as_written(library: Library, feel: str) -> None:
    """B1 on the second fret of the A string, a ghost there, D2, B1, E2, G1; two columns a slot."""
    text = f"{HEAD}feel: {feel}\nverse:\n| D | <G/B | A | D |\n{tab_rows({}, PICKED, {}, {})}\n"
    notes = in_bar(bass(text, library), 2)
    assert [told(note) for note in notes] == [
        (0, 480, 35, "plain"),
        (960, 240, 35, "ghost"),
        (1440, 240, 38, "plain"),
        (1920, 240, 35, "plain"),
        (2160, 240, 40, "plain"),
        (2880, 240, 31, "plain"),
    ]
    assert {note.origin.maker for note in notes} == {Maker.WRITTEN}
    lines = [note.origin.written_at.line for note in notes if note.origin.written_at]
    assert lines == [9, 9, 8, 9, 8, 10]
    places = [note.stated_place for note in notes]
    assert places == [(3, 2), (3, 2), (2, 0), (3, 2), (2, 2), (4, 3)]


def test_a_written_bar_sounds_as_long_as_it_is_written(library: Library) -> None:
    """Note numbers, starts and ends are read from the file by mido; nothing is let go early."""
    text = f"{HEAD}verse:\n| D | D |\n{tab_rows({'D': {0: '5=====', 8: '7='}}, {})}\n"
    performance = perform_chart(text, library, TIGHT)
    track = mido.MidiFile(file=io.BytesIO(midi_bytes(performance, parts=(Part.BASS,)))).tracks[1]
    now, events = 0, []
    for message in track:
        now += message.time
        if message.type in ("note_on", "note_off") and now < BAR:
            events.append((now, message.type == "note_on", message.note))
    assert events == [(0, True, 43), (720, False, 43), (1920, True, 45), (2160, False, 45)]


def test_tokens_under_a_bar_follow_its_chords_and_nothing_else(library: Library) -> None:
    """Over G then C: G1 D2, then C2 as root, its third E2; a rest at the head stays a rest."""
    text = f"{HEAD}verse:\n| D | G / C / | D |\nbass | | . R 5 . R 3 @E1 - | |\n"
    notes = in_bar(bass(text, library), 2)
    assert [told(note)[:3] for note in notes] == [
        *((480, 480, 31), (960, 480, 38), (1920, 480, 36), (2400, 480, 40), (2880, 960, 28)),
    ]


def test_a_chord_that_changes_under_a_hold_is_not_struck_again(library: Library) -> None:
    text = f"{HEAD}verse:\n| D | G / C / | D |\nbass | | R - - - - - - - | |\n"
    assert [told(note)[:3] for note in in_bar(bass(text, library), 2)] == [(0, 3840, 31)]


def test_silence_is_written_too_and_no_chord_silences_nothing(library: Library) -> None:
    text = f"{HEAD}verse:\n| D | N.C. | D |\n{tab_rows({'E': {}}, {'E': {4: '5======='}}, {})}\n"
    notes = bass(text, library)
    assert in_bar(notes, 1) == []
    assert [told(note)[:3] for note in in_bar(notes, 2)] == [(960, 960, 33)]


@pytest.mark.parametrize("words", ["(stop) ", "(hold) ", "(hits 1 3) ", "(kicks 2+) ", "(fill) "])
def test_words_to_the_band_leave_a_written_bar_as_it_is(library: Library, words: str) -> None:
    rows = tab_rows({}, PICKED, {})
    plain = in_bar(bass(f"{HEAD}verse:\n| D | G | D |\n{rows}\n", library), 2)
    worded = in_bar(bass(f"{HEAD}verse:\n| D | {words}G | D |\n{rows}\n", library), 2)
    assert [told(note) for note in plain] == [told(note) for note in worded]
    assert len(plain) == 6


def test_the_drums_do_what_a_word_says_over_a_written_bar(library: Library) -> None:
    """(stop): all on beat 1 and nothing more."""
    text = f"{HEAD}verse:\n| D | (stop) G | D |\n{tab_rows({}, PICKED, {})}\n"
    performance = perform_chart(text, library, TIGHT)
    drums = [n for n in performance.part_notes(Part.DRUMS) if n.origin.bar.played_bar == 2]
    assert {note.grid_tick for note in drums} == {BAR}


def test_a_push_into_or_out_of_a_written_bar_moves_only_the_others(library: Library) -> None:
    """The pushed chord's bass note stays with the written bar; the keys come early."""
    text = f"{HEAD}verse:\n| D | <G | <A | D |\n{tab_rows({}, PICKED, {}, {})}\n"
    performance = perform_chart(text, library, TIGHT)
    notes = performance.part_notes(Part.BASS)
    assert [told(note)[0] for note in in_bar(notes, 2)] == [0, 960, 1440, 1920, 2160, 2880]
    after = in_bar(notes, 3)[0]
    assert (after.pitch, after.grid_tick) == (33, 2 * BAR)
    assert [note.origin.pushed_ticks for note in notes] == [0] * len(notes)
    keys = [note.grid_tick for note in performance.part_notes(Part.KEYS)]
    assert BAR - 480 in keys and 2 * BAR - 480 in keys


def test_a_tie_over_the_bar_line_is_one_note(library: Library) -> None:
    rows = tab_rows({"A": {12: "5======="}}, {"A": {0: "=====", 8: "7="}}, {})
    rows = rows.replace("|-====", "|=====", 1)
    notes = bass(f"{HEAD}verse:\n| D | D | D |\n{rows}\n", library)
    assert (notes[0].grid_tick, notes[0].written_ticks, notes[0].pitch) == (2880, 960 + 720, 38)
    assert in_bar(notes, 2)[0].grid_tick == BAR + 1920


def test_a_double_stop_is_struck_at_once(library: Library) -> None:
    text = f"{HEAD}verse:\n| D | D |\n{tab_rows({'A': {0: '5==='}, 'D': {0: '7==='}}, {})}\n"
    for options in (TIGHT, PerformOptions()):
        first, second = in_bar(bass(text, library, options), 1)
        assert (first.pitch, second.pitch) == (38, 45)
        assert first.onset_tick == second.onset_tick and first.written_ticks == 480


def test_slurs_slides_and_signs_reach_the_notes(library: Library) -> None:
    """Frets 5, 7, 5 on the A string are D2 E2 D2; <12> sounds an octave above the open string."""
    signs = {0: "5===", 2: "h7===", 4: "p5===", 6: "/9===", 8: "7b9=", 10: "5~==", 12: "<12>"}
    text = f"{HEAD}verse:\n| D | D |\n{tab_rows({'A': signs}, {})}\n"
    notes = in_bar(bass(text, library), 1)
    assert [(note.pitch, note.touch) for note in notes] == [
        (38, Touch.PLAIN),
        (40, Touch.HAMMER_ON),
        (38, Touch.PULL_OFF),
        (42, Touch.SLIDE),
        (40, Touch.PLAIN),
        (38, Touch.PLAIN),
        (45, Touch.HARMONIC),
    ]
    assert [note.bend_semitones for note in notes] == [0, 0, 0, 0, 2, 0, 0]
    assert [note.has_vibrato for note in notes] == [False] * 5 + [True, False]
    assert max(n.velocity for n in notes if n.touch.is_slurred) < min(
        n.velocity for n in notes if not n.touch.is_slurred
    )


def test_what_a_written_note_is_in_its_chord_is_said(library: Library) -> None:
    """Over G/B: B is the slash note, D the fifth, G the root, E (not in the chord) a sixth."""
    signs = {"A": {0: "2="}, "D": {4: "0=", 8: "2="}, "E": {12: "3="}}
    text = f"{HEAD}verse:\n| G/B | D |\n{tab_rows(signs, {})}\n"
    roles = [note.origin.role for note in in_bar(bass(text, library), 1)]
    assert roles == [Role.SLASH, Role.FIFTH, Role.SIXTH, Role.ROOT]


FEELS = ("sixteenths", "straight eighths", "walking", "soul", "tumbao", "ballad", "two-beat")


@given(
    feel=st.sampled_from(FEELS),
    fret=st.integers(0, 9),
    other=st.integers(0, 9),
    slot=st.sampled_from([0, 4, 8, 12]),
    number=st.integers(1, 6),
    fills=st.sampled_from(["none", "many"]),
)
def test_one_changed_note_changes_no_other(
    library: Library, feel: str, fret: int, other: int, slot: int, number: int, fills: str
) -> None:
    """Must hold of the project's own issue: no source but it.

    One step in the bar before leads into the first note, and a fill does; ghosts that follow lie
    where the hand is.
    """
    parts = []
    for changing in (fret, other):
        signs = {each: "5=" for each in (0, 4, 8, 12)}
        signs[slot] = f"{changing}="
        rows = tab_rows(*({"A": signs} if each == number else {} for each in range(1, 7)))
        text = (
            f"tempo: 96\nfeel: {feel}\nfills: {fills}\nverse:\n| D | G | C | A | D | G |\n{rows}\n"
        )
        parts.append(bass(text, library))
    before, after = parts
    assert len(before) == len(after) > 10
    changed = [
        (one, two)
        for one, two in zip(before, after, strict=True)
        if drawn(one)[:4] != drawn(two)[:4]
    ]
    for one, _ in changed:
        is_written = one.origin.maker is Maker.WRITTEN
        is_before = one.origin.bar.played_bar == number - 1
        aims = is_before and one.origin.target_pitch is not None
        filled = is_before and not all(note.origin.time_keeping for note in before)
        is_ghost = one.touch is Touch.GHOST
        at = (number - 1) * BAR + slot * 240
        assert (is_written and one.grid_tick == at) or aims or filled or is_ghost
    if fills == "none":
        leading = [one for one, _ in changed if one.origin.maker is not Maker.WRITTEN]
        assert len([one for one in leading if one.touch is not Touch.GHOST]) <= 1
    if fret != other:
        assert sum(one.origin.maker is Maker.WRITTEN for one, _ in changed) == 1


def test_what_is_drawn_may_lead_into_a_written_note(library: Library) -> None:
    """A walk comes to C#2, fret 4 of the A string, by a half or whole step or a fifth."""
    rows = tab_rows({}, {}, {"A": {0: "4===", 4: "5="}}, {})
    notes = bass(f"{HEAD}feel: walking\nverse:\n| D | G | A | D |\n{rows}\n", library)
    last = in_bar(notes, 2)[-1]
    assert last.origin.target_pitch == 37
    assert abs(last.pitch - 37) in (1, 2, 5, 7)


@pytest.mark.parametrize(
    ("chords", "led"),
    [
        ("Em7 | A7", [31, 32]),
        ("A7 | C", [34, 35]),
        ("G | Bm7", [33, 34]),
        ("D | E7", [38, 39]),
    ],
)
def test_the_steps_of_a_riff_stay_on_the_side_that_the_player_wrote(
    library: Library, chords: str, led: list[int]
) -> None:
    """A whole and a half step below A1, C2, B1; below E1 is no note, so an octave up (by hand)."""
    riff = "riff heron:\nR - - - - - >-2 >-1\n"
    text = f"tempo: 96\n{riff}verse:\nbass: heron\n| {chords} | G | G |\n"
    for key in ("E minor", "C", "D"):
        notes = in_bar(bass(f"key: {key}\n{text}", library), 1)
        assert [note.pitch for note in notes[1:]] == led
        assert [note.origin.role for note in notes[1:]] == [Role.APPROACH] * 2


def test_degrees_under_a_bar_are_those_written_however_far_they_leap(library: Library) -> None:
    """D2, its octave D3 and low E1 after it: a leap that the tool's own line would mend."""
    text = f"{HEAD}verse:\n| D | E | E |\nbass | . . R 8 | | |\n"
    assert [note.pitch for note in in_bar(bass(text, library), 1)] == [38, 50]


def test_what_is_drawn_goes_on_from_no_written_note(library: Library) -> None:
    """A shuffle's second bar begins on the octave while its chord holds, D3 (50)."""
    lines = []
    for string, fret in (("E", 0), ("D", 0), ("G", 9)):
        rows = tab_rows({string: {0: f"{fret}=======", 12: f"{fret}="}}, {}, {})
        notes = bass(f"{HEAD}feel: shuffle\nverse:\n| D | D | D |\n{rows}\n", library)
        lines.append([told(note) for note in in_bar(notes, 2)])
    assert lines[0] == lines[1] == lines[2] and len(lines[0]) > 4


def test_no_riff_is_filled_not_even_where_nobody_else_could(library: Library) -> None:
    """The last bar before a new section is the fill's usual place."""
    riff = "riff heron:\n  R - 5 - 8 - 5 -\n"
    for drums in ("", "drums: out\n"):
        head = f"{riff}tempo: 96\nfills: many\n{drums}bass: heron\n"
        text = f"{head}verse:\n| D | D | D | D |\nchorus:\n| G |\n"
        notes = bass(text, library)
        for number in (1, 2, 3, 4):
            ticks = [told(note)[0] for note in in_bar(notes, number)]
            assert ticks == [0, 960, 1920, 2880], (drums, number)
        assert all(note.origin.time_keeping for note in notes)


def test_a_riff_on_a_new_chord_begins_as_it_is_written(library: Library) -> None:
    """Fifth, rest, root, rest: over D A2 and D2, over G D2 and G1."""
    text = f"riff turn:\n  5 . R .\n{HEAD}bass: turn\nverse:\n| D | G | D |\n"
    notes = bass(text, library)
    assert [note.pitch for note in notes] == [45, 38, 38, 31, 45, 38]


@pytest.mark.parametrize(
    "riff", ["R - - - - - - - >-2 - - - >-1 - - -", "R - - - 5 - - - >-2 - >-1 -"]
)
def test_both_steps_of_a_written_run_lie_in_one_octave(library: Library, riff: str) -> None:
    """One below the lowest string would leave a seventh between them: both go up together."""
    roots = {"E": 28, "F": 29, "Gb": 30, "G": 31, "A": 33, "C": 36, "D": 38, "Eb": 39}
    compared = 0
    for before in roots:
        for goal in roots.keys() - {before}:
            text = f"{HEAD}bass: own\nriff own:\n{riff}\nverse:\n| {before} | {goal} |\n"
            notes = bass(text, library)
            first = next(n for n, note in enumerate(notes) if note.grid_tick == BAR)
            lift = 12 if roots[goal] - 2 < 28 else 0
            steps = [note.pitch - lift for note in notes[first - 2 : first]]
            assert steps == [roots[goal] - 2, roots[goal] - 1]
            assert notes[first].pitch == roots[goal]
            compared += 1
    assert compared == 56


def test_ghosts_before_the_first_note_lie_where_that_will_be(library: Library) -> None:
    """Two ghosts, the root D2 of the A string, a ghost; the second bar begins with one on D2."""
    text = f"{HEAD}verse:\n| D | G |\nbass | x x R x | x R x x |\n"
    notes = bass(text, library)
    ghosts = [note.touch is Touch.GHOST for note in notes]
    assert ghosts == [True, True, False, True, True, False, True, True]
    assert [note.pitch for note in notes] == [38, 38, 38, 38, 38, 31, 31, 31]
    assert [note.grid_tick for note in notes] == [960 * beat for beat in range(8)]
