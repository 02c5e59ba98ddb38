"""Short songs of our own that records are made of, and what all of their tests share."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cache
from hashlib import sha256
from pathlib import Path

import numpy

from groove.chart.parse import parse_chart
from groove.events import Performance
from groove.io.library import load_library
from groove.io.midi import midi_bytes
from groove.io.records import rendered_sound
from groove.io.soundfont import choose_soundfont
from groove.pipeline import PerformOptions, perform_song
from groove.record.aligned import HeardSong, align_record
from groove.record.due_sound import DueSound, due_sound
from groove.record.heard_tones import PARTS_OF_SEMITONE, TONE_STEP_SEC
from groove.record.listened import Listened, listen
from groove.record.rises import RISE_STEP_SEC
from tests.kept import kept
from tests.record.made_records import MadeRecord, Samples

COPPER_KETTLE = """title: Copper Kettle
tempo: 112
key: F
feel: straight eighths
verse:
| F | Am7 | Bb | C7 |
chorus:
| Dm | Bb | Gm7 | C |
| F/A | Bb | Eb | C7 |
form: verse, chorus, verse, chorus
"""
GRAVEL_YARD = """title: Gravel Yard
tempo: 104
key: E minor
feel: straight eighths
verse:
| Em | C | D | Em |
chorus:
| Am | F#m7b5 | B7 | Em |
| G | D/F# | C | B7 |
form: verse, chorus, verse, chorus
"""


@cache
def performed(chart: str) -> Performance:
    """Return what the band plays of a chart."""
    return perform_song(parse_chart(chart, source="song"), load_library(), PerformOptions())


@cache
def rendered_once(performance: Performance, font: Path) -> Listened:
    """Return how a performance sounds, as the command has it rendered: once for all tests."""
    sound = sha256(midi_bytes(performance)).hexdigest()
    key = ("rendered", sound, performance.length_sec, font.name)
    return kept(key, lambda: rendered_sound(performance, font))


def listened_once(blocks: Iterable[Samples]) -> Listened:
    """Return what is heard of a stream of samples: once for all tests that hear the same."""
    read = list(blocks)
    digest = sha256()
    for block in read:
        digest.update(block.tobytes())
    return kept(("listened", digest.hexdigest()), lambda: listen(read))


@cache
def due(chart: str) -> tuple[DueSound, Performance]:
    """Return what should sound of a chart, and its performance."""
    performance = performed(chart)
    font = choose_soundfont(None, {}, None).path
    return due_sound(performance, rendered_once(performance, font)), performance


@cache
def heard(chart: str, record: MadeRecord) -> HeardSong:
    """Return how a record has a chart."""
    key = ("heard", chart, sha256(record.samples.tobytes()).hexdigest())
    return kept(key, lambda: align_record(due(chart)[0], listened(record)))


@cache
def listened(record: MadeRecord) -> Listened:
    """Return what is heard of a record."""
    return listened_once([record.samples])


def spliced(pieces: Sequence[tuple[Listened, float, float]]) -> Listened:
    """Return what is heard of pieces one after the other: each of a record, from and to a second.

    So a record of another form costs no rendering; at a seam it is cut as a tape is.
    """
    tones: list[Samples] = []
    rises: list[Samples] = []
    tunings, rows = [], []
    at_sec, count = 0.0, 0
    for whole, first_sec, end_sec in pieces:
        part = whole.part(first_sec, end_sec)
        at_sec += end_sec - first_sec
        length = round(at_sec / TONE_STEP_SEC) - count
        tones.append(_rows(part.tones, length))
        rises.append(
            _rows(part.rises, round(at_sec / RISE_STEP_SEC) - sum(len(one) for one in rises))
        )
        tunings.append(part.tunings)
        rows += [row + count for row in part.tuned_rows]
        count += length
    return Listened(
        tones=numpy.concatenate(tones),
        rises=numpy.concatenate(rises),
        tunings=numpy.concatenate(tunings),
        tuned_rows=tuple(rows),
        length_sec=at_sec,
    )


def _rows(of: Samples, count: int) -> Samples:
    """Return so many rows, the last one again where there are fewer."""
    short = max(0, count - len(of))
    return numpy.concatenate([of, of[-1:].repeat(short, axis=0)])[:count]


def half_step_up(heard: Listened) -> Listened:
    """Return the same a half step higher."""
    return replace(heard, tones=numpy.roll(heard.tones, PARTS_OF_SEMITONE, axis=1))
