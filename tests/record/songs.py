"""Short songs of our own that records are made of, and what all of their tests share."""

from functools import cache

from groove.chart.parse import parse_chart
from groove.events import Performance
from groove.io.library import load_library
from groove.io.records import rendered_sound
from groove.io.soundfont import choose_soundfont
from groove.pipeline import PerformOptions, perform_song
from groove.record.aligned import HeardSong, align_record
from groove.record.due_sound import DueSound, due_sound
from groove.record.listened import listen
from tests.record.made_records import MadeRecord

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


rendered_once = cache(rendered_sound)
"""How a performance sounds, as the command has it rendered: once for all tests."""


@cache
def due(chart: str) -> tuple[DueSound, Performance]:
    """Return what should sound of a chart, and its performance."""
    performance = performed(chart)
    font = choose_soundfont(None, {}, None).path
    return due_sound(performance, rendered_once(performance, font)), performance


@cache
def heard(chart: str, record: MadeRecord) -> HeardSong:
    """Return how a record has a chart."""
    return align_record(due(chart)[0], listen([record.samples]))
