"""Hypothesis builders of performances: several tempi and meters, crowded and colliding notes."""

from hypothesis import strategies as st

from groove.events import Bar, Marker, Note, Part, Performance, note_order
from groove.timing import Meter, TempoChange, TempoMap
from tests.midi_support import ORIGIN, PROGRAMS, REF, in_keys
from tests.strategies_text import any_text

METERS = [Meter(2, 4), Meter(3, 4), Meter(4, 4), Meter(5, 4), Meter(2, 2), Meter(3, 8)]
METERS += [Meter(5, 8), Meter(6, 8), Meter(7, 8), Meter(9, 8), Meter(12, 8)]

# Few pitches, and the same ones for drums and click, so that notes collide often.
PITCHES = {
    Part.BASS: [28, 33, 40],
    Part.DRUMS: [36, 37, 42],
    Part.KEYS: [60, 64, 67],
    Part.CLICK: [37, 42, 76],
}

# 20 to 400 quarters a minute.
microseconds = st.integers(150_000, 3_000_000)


@st.composite
def notes(draw: st.DrawFn, *, end_tick: int) -> Note:
    """Draw a note that begins before ``end_tick``, often on a coarse grid, late, early or not."""
    part = draw(st.sampled_from(list(Part)))
    grid_tick = draw(st.integers(0, end_tick // 240 - 1)) * 240
    return Note(
        part=part,
        grid_tick=grid_tick,
        shift_ticks=draw(
            st.sampled_from([0, 0, 0, 1, 2, 7]) | st.integers(-min(40, grid_tick), 40)
        ),
        length_ticks=draw(st.sampled_from([1, 2, 240, 480]) | st.integers(1, 3000)),
        pitch=draw(st.sampled_from(PITCHES[part])),
        velocity=draw(st.integers(1, 127)),
        origin=ORIGIN,
    )


@st.composite
def bars(draw: st.DrawFn) -> tuple[Bar, ...]:
    """Draw one to six bars, each in its own meter, perhaps after a pickup of an eighth or more."""
    drawn = []
    tick = 0
    for index, meter in enumerate(draw(st.lists(st.sampled_from(METERS), min_size=1, max_size=6))):
        length = int(meter.bar_quarters * 960)
        if index == 0:
            length = draw(st.sampled_from([length, 480, 960]))
        drawn.append(Bar(ref=REF, start_tick=tick, length_ticks=length, meter=meter))
        tick += length
    return tuple(drawn)


@st.composite
def performances(draw: st.DrawFn) -> Performance:
    """Draw a whole performance with at least one note."""
    song_bars = draw(bars())
    end_tick = song_bars[-1].end_tick
    places = st.integers(1, end_tick - 1)
    tempo_ticks = [0, *sorted(draw(st.sets(places, max_size=4)))]
    starts = st.sampled_from([bar.start_tick for bar in song_bars])
    keys = [
        (tick, draw(st.integers(-7, 7)), draw(st.booleans()))
        for tick in sorted(draw(st.sets(starts, max_size=3)))
    ]
    drawn_notes = draw(st.lists(notes(end_tick=end_tick), min_size=1, max_size=30))
    return Performance(
        title=draw(any_text(20)),
        notes=tuple(sorted(drawn_notes, key=note_order)),
        bars=in_keys(song_bars, keys),
        tempo_map=TempoMap(tuple(TempoChange(t, draw(microseconds)) for t in tempo_ticks)),
        markers=tuple(
            Marker(tick, draw(any_text(10))) for tick in sorted(draw(st.sets(starts, max_size=3)))
        ),
        programs=PROGRAMS,
        end_tick=end_tick,
    )
