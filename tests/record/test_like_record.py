"""The band on a record's time: its bar lines are the record's, read by mido and heard again."""

from collections.abc import Sequence

import numpy
import pytest

from groove.io.midi import midi_bytes
from groove.io.records import rendered_sound
from groove.io.soundfont import choose_soundfont
from groove.record.aligned import HeardSong, align_record
from groove.record.heard_bar import HeardBar
from groove.record.like_record import WAIT_SECTION, like_record
from tests.record.made_records import Studio, made_record
from tests.record.midi_markers import marker_secs
from tests.record.songs import COPPER_KETTLE, due, heard, performed

STUDIO = Studio(seed=3, feel="soul", cents=-23, lead_in_sec=3.5, after_sec=4.0)


def bars_at(rows: Sequence[tuple[int, float, float, bool]]) -> HeardSong:
    """Return a record with bars at given seconds: index, begin, end, whether it follows."""
    bars = tuple(
        HeardBar(index=index, sec=sec, end_sec=end, confidence=1.0, follows=follows)
        for index, sec, end, follows in rows
    )
    return HeardSong(
        bars=bars, semitones=0, tuning_cents=0.0, length_sec=60.0, cost=0.1, reversed_cost=0.7
    )


@pytest.mark.parametrize("begin", [0.0, -0.01, 0.09, 1.3, 61.7])
def test_bars_begin_where_the_record_has_them(begin: float) -> None:
    """A section, some other music, the section after it with a bar left out, and one again."""
    performance = performed(COPPER_KETTLE)
    rows = [(0, begin, begin + 2.2, True)]
    rows += [(n, begin + 2.2 * n, begin + 2.2 * n + 2.2, True) for n in (1, 2, 3)]
    rows += [(n, begin + 20 + 1.9 * (n - 4), begin + 20 + 1.9 * (n - 3), n > 4) for n in (4, 5, 6)]
    end = rows[-1][2]
    rows += [(8, end, end + 2.0, True), (0, end + 2.0, end + 4.5, True)]
    laid = like_record(performance, bars_at(rows))
    second = laid.tempo_map.tick_to_sec
    played = [bar for bar in laid.bars if bar.ref.section != WAIT_SECTION]
    assert [bar.ref.played_bar for bar in played] == [1, 2, 3, 4, 5, 6, 7, 9, 1]
    due_secs = [max(0.0, row[1]) for row in rows]
    assert [second(bar.start_tick) for bar in played] == pytest.approx(due_secs, abs=0.0005)
    assert second(laid.end_tick) == pytest.approx(rows[-1][2], abs=0.0005)
    # In any other program it is so too.
    told = [sec for name, sec in marker_secs(midi_bytes(laid)) if name in ("verse", "chorus")]
    assert told == pytest.approx([due_secs[0], begin + 20, end, end + 2.0], abs=0.002)
    sounding = [second(note.onset_tick) for note in laid.notes]
    assert not [sec for sec in sounding if begin + 8.9 < sec < begin + 19.9]
    assert len(sounding) > 50


def test_it_is_heard_where_it_was_laid() -> None:
    """Within 20 ms, as was asked for: rendered, and held against the chart as a record is."""
    found = heard(COPPER_KETTLE, made_record(COPPER_KETTLE, STUDIO))
    due_sound, performance = due(COPPER_KETTLE)
    laid = like_record(performance, found)
    sound = rendered_sound(laid, choose_soundfont(None, {}, None).path)
    again = align_record(due_sound, sound)
    assert [one.index for one in again.bars] == [one.index for one in found.bars]
    apart = [abs(a.sec - b.sec) for a, b in zip(again.bars, found.bars, strict=True)]
    assert numpy.max(apart) < 0.02
