"""A short song's bass as a player plays it to the page, and the sticks that a microphone hears."""

from collections.abc import Sequence
from random import Random

import numpy
from numpy.typing import NDArray

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.events import Part, Touch
from groove.pipeline import perform_song
from tests.take.bass_sounds import SAMPLE_RATE_HZ, StringSound
from tests.take.made_takes import PlayedNote, recorded

CHART = """title: Heard
tempo: 120
feel: straight eighths
verse:
| D | G | D |
"""
TEMPO_BPM = 120
PASS_SEC = 6.0
LEAD_SEC = 0.5
"""How long the file is silent before the song begins in it."""
DELAY_SEC = 0.12
"""What the way out of the speaker and in again takes."""
UNHEARD, OTHER, LATE = 3, 6, 9
LATE_SEC = 0.07
STICK_SEC = 0.004

Samples = NDArray[numpy.float32]


def slipping_line(library: Library, *, late_sec: float = 0.0) -> list[PlayedNote]:
    """Return the chart's bass: one note left out, one a semitone high, one late, all as late."""
    performance = perform_song(parse_chart(CHART), library)
    sec = performance.tempo_map.tick_to_sec
    notes = sorted(performance.part_notes(Part.BASS), key=lambda note: note.onset_tick)
    assert len(notes) >= 15 and not any(note.touch is Touch.GHOST for note in notes)
    rng = Random("heard")
    jitter = [rng.gauss(0, 0.004) for _ in notes]
    return [
        PlayedNote(
            onset_sec=sec(note.onset_tick)
            + jitter[number]
            + late_sec
            + LATE_SEC * (number == LATE),
            length_sec=sec(note.end_tick) - sec(note.onset_tick),
            pitch=note.pitch + (number == OTHER),
            velocity=note.velocity,
            wanted=number,
        )
        for number, note in enumerate(notes)
        if number != UNHEARD
    ]


def slow_bars(library: Library, bars: int, share: float) -> list[PlayedNote]:
    """Return the first bars of the chart's bass, every note as written, at a share of the tempo."""
    performance = perform_song(parse_chart(CHART), library)
    sec = performance.tempo_map.tick_to_sec
    notes = sorted(performance.part_notes(Part.BASS), key=lambda note: note.onset_tick)
    return [
        PlayedNote(
            onset_sec=sec(note.onset_tick) / share,
            length_sec=(sec(note.end_tick) - sec(note.onset_tick)) / share,
            pitch=note.pitch,
            velocity=note.velocity,
            wanted=number,
        )
        for number, note in enumerate(notes)
        if note.grid_tick < bars * 3840
    ]


def own_line(*, late_sec: float = 0.0) -> list[PlayedNote]:
    """Return notes that are nobody's part, on eighths and sixteenths of the same bars."""
    slots = [0, 3, 4, 6, 10, 12, 14, 15, 16, 19, 22, 24, 28, 30, 32, 35, 38, 40, 43, 44, 46]
    step_sec = 60 / TEMPO_BPM / 4
    rng = Random("own")
    return [
        PlayedNote(
            onset_sec=slot * step_sec + rng.gauss(0, 0.003) + late_sec,
            length_sec=(after - slot) * step_sec,
            pitch=rng.randint(33, 50),
            velocity=80,
            wanted=None,
        )
        for slot, after in zip(slots, [*slots[1:], 48], strict=True)
    ]


def sound_of(line: Sequence[PlayedNote]) -> Samples:
    """Return the samples of a line on a plucked string, the song from ``LEAD_SEC`` on."""
    samples, _ = recorded(line, StringSound(), tempo_bpm=TEMPO_BPM, start_sec=LEAD_SEC)
    return samples.astype(numpy.float32)


def with_sticks(samples: Samples, before_sec: float, sticks_sec: Sequence[float]) -> Samples:
    """Return samples with silence before, and short bright strokes at seconds of the result."""
    silence = numpy.zeros(round(before_sec * SAMPLE_RATE_HZ), numpy.float32)
    whole = numpy.concatenate([silence, samples])
    length = round(10 * STICK_SEC * SAMPLE_RATE_HZ)
    noise = numpy.random.default_rng(4).standard_normal(length)
    stroke = 0.2 * noise * numpy.exp(-numpy.arange(length) / (STICK_SEC * SAMPLE_RATE_HZ))
    for sec in sticks_sec:
        at = round(sec * SAMPLE_RATE_HZ)
        whole[at : at + length] += stroke.astype(numpy.float32)
    return whole
