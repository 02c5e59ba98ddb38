"""What a performance says is due: kinds of notes, what keeps no time, and pieces at other tempi."""

import pytest
from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.events import Part, Performance, Touch
from groove.io.library import load_library
from groove.pipeline import PerformOptions, perform_song
from groove.take.reference import (
    TakeReference,
    performed_reference,
    piece_of_reference,
    together,
)
from groove.timing import TICKS_PER_QUARTER, TempoChange, TempoMap
from tests.take.played import even_reference

SONG = """title: Gate Six
tempo: 90
key: A
feel: sixteenths
verse:
| A | {word} D | E | A {fill} |
form: verse x2
"""


def reference(word: str = "", fill: str = "") -> TakeReference:
    return performed_reference(performed(word, fill))


def performed(word: str = "", fill: str = "") -> Performance:
    song = parse_chart(SONG.format(word=word, fill=fill))
    return perform_song(song, load_library(), PerformOptions(seed=2))


def test_every_note_is_due_with_its_kind() -> None:
    """Each stroke is compared with the note of the performance that begins there."""
    performance = performed()
    tempo = performance.tempo_map
    notes = {
        round(tempo.tick_to_sec(note.onset_tick), 6): note
        for note in performance.part_notes(Part.BASS)
    }
    due = performed_reference(performance).notes
    assert len(due) > 40
    for stroke in due:
        note = notes[round(stroke.sec, 6)]
        assert stroke.is_ghost == (note.touch is Touch.GHOST)
        assert stroke.is_fill != note.origin.time_keeping
        assert stroke.length_sec == pytest.approx(
            tempo.tick_to_sec(note.end_tick) - tempo.tick_to_sec(note.onset_tick)
        )
    assert any(stroke.is_ghost for stroke in due)
    assert sum(stroke.is_fill for stroke in due) < len(due) / 4


def test_notes_after_a_shift_are_those_that_are_named() -> None:
    performance = performed()
    first = next(iter(performance.part_notes(Part.BASS)))
    bar = performance.bars[0]
    named = {(bar.ref.played_bar, first.grid_tick - bar.start_tick)}
    marked = [note.after_shift for note in performed_reference(performance, named).notes]
    assert marked[0] and not any(marked[1:])


@pytest.mark.parametrize("word", ["(hold)", "(stop)"])
def test_no_tempo_is_read_where_the_band_waits(word: str) -> None:
    found = reference(word)
    waiting = {note.bar for note in found.notes if not note.is_timed}
    assert waiting == {1, 5}
    assert all(note.is_timed for note in reference().notes)


def test_no_tempo_is_read_where_it_changes_within_a_bar_nor_in_the_next_one() -> None:
    """Two beats into the second bar the tempo is another; at the sixth one's beginning too.

    The band finds the new tempo in the bar after; one that begins with a bar is known by then.
    """
    performance = performed()
    bars = performance.bars
    quarter = TICKS_PER_QUARTER
    changes = (
        *performance.tempo_map.changes,
        TempoChange(tick=bars[1].start_tick + 2 * quarter, microseconds=700_000),
        TempoChange(tick=bars[5].start_tick, microseconds=650_000),
    )
    found = performed_reference(replace(performance, tempo_map=TempoMap(changes)))
    assert len(performance.tempo_map.changes) == 1 and len(bars) == 8
    assert {note.bar for note in found.notes if not note.is_timed} == {1, 2}
    assert {note.bar for note in found.notes if note.is_timed} == {0, 3, 4, 5, 6, 7}


def test_a_double_stop_is_one_stroke() -> None:
    """Two strings are struck within 8 ms, two strokes of a roll are not (common practice)."""
    note = even_reference(1).notes[0]
    both = [note, replace(note, sec=note.sec + 0.005, pitches=(47,))]
    assert [stroke.pitches for stroke in together(both)] == [(40, 47)]
    apart = [note, replace(note, sec=note.sec + 0.012, pitches=(47,))]
    assert [stroke.pitches for stroke in together(apart)] == [(40,), (47,)]


def test_a_piece_at_half_the_tempo_lasts_twice_as_long() -> None:
    """Bars 2 and 3 of an even line at 100, twice over at half: a bar is 4.8 s, a note 0.3 s."""
    piece = piece_of_reference(even_reference(4), range(2, 4), 2, {"tempo_percent": 50})
    assert [bar.number for bar in piece.bars] == [2, 3, 2, 3]
    assert [bar.start_sec for bar in piece.bars] == pytest.approx([0, 4.8, 9.6, 14.4])
    assert piece.notes[0].length_sec == pytest.approx(0.3)
    assert [note.sec for note in piece.notes[::8]] == pytest.approx([0, 4.8, 9.6, 14.4])
    assert [note.bar for note in piece.notes[::8]] == [0, 1, 2, 3]
    assert (piece.tempo_bpm, piece.beat_sec) == pytest.approx((50, 1.2))
    slower = piece_of_reference(even_reference(4), None, 1, {"tempo_bpm": 80})
    assert slower.tempo_bpm == pytest.approx(80)
    assert slower.notes[0].length_sec == pytest.approx(0.15 * 100 / 80)
