"""Parts to engrave: every example chart, and a song of our own with repeats, ramps and pushes."""

import re
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from groove.cells.model import Library
from groove.chart.model import Song
from groove.chart.parse import parse_chart
from groove.events import Performance
from groove.io.engrave import sheet_svg
from groove.neck.fingering import finger_performance
from groove.neck.instrument import Tuning
from groove.pipeline import perform_song, song_tuning
from groove.sheet.options import DEFAULT_SHEET, SheetOptions
from tests.kept import kept

CHARTS = Path(__file__).resolve().parents[2] / "shared" / "charts"
NAMES = tuple(sorted(path.stem for path in CHARTS.glob("*.txt")))
REPEATS = """
title: Copper Weir
tempo: 84
key: D major
pickup: 1
fills: none

intro:
  bass: long notes
  |: D | A/C# | Bm7 | G :| x3

verse:
  |: D | Em7 / A7 / | D | D :| x3
  |: G | D/F# |1. Em7 | A7 :|2. Em7 A7 | (stop) <D |

bridge:
  feel: waltz
  meter: 3/4
  tempo: 84 to 60
  | G | A | N.C. | A7sus4 |

form: intro, verse x2, bridge, intro
"""


Played = tuple[Song, Performance, Tuning]
_PLAYED: dict[tuple[str, str, int], tuple[Library, Played]] = {}
"""What was played already, with its library, so that no other has its number."""


def played(text: str, library: Library, name: str = "song") -> Played:
    """Return a song, its fingered performance and its instrument; all of them are frozen."""
    key = (text, name, id(library))
    if key not in _PLAYED:
        _PLAYED[key] = library, fingered(text, library, name)
    return _PLAYED[key][1]


def fingered(text: str, library: Library, name: str) -> Played:
    song = parse_chart(text, source=name)
    tuning = song_tuning(song)
    performance, _ = finger_performance(perform_song(song, library), tuning=tuning)
    return song, performance, tuning


_DRAWN: dict[tuple[str, SheetOptions], tuple[Element, ...]] = {}
"""Pages that were drawn already."""
UNLIKE_NAMES = ("button-drawer", "glass-stairs", "slow-ferry", "two-clocks")
"""Four songs that have among them what all have, for what is dear for each song.

A pickup with repeats, endings, pushes and stops; a walk over written numbers, with the longest
names of chords; a beat in three; and changes of meter, feel and tempo.
"""
SIXTEENTHS = """
title: Sifting Gate
tempo: 88
key: D
feel: sixteenths
verse:
  | D | G | <Em7 | A |
  | Bm7 | F#m7 | <<G | A7 |
"""
"""Eight bars of the feel with ghosts, swung lightly and pushed into."""


def drawn_pages(
    name: str, library: Library, options: SheetOptions = DEFAULT_SHEET
) -> tuple[Element, ...]:
    """Return the pages of an example chart, or of a chart's text, as they are drawn for a screen.

    Once a run, by the shipped library; nobody changes them.
    """
    key = name, options
    if key not in _DRAWN:
        known = example if name in NAMES else played
        pages = kept(("drawn", key), lambda: drawn(*known(name, library), options))
        _DRAWN[key] = tuple(map(ElementTree.fromstring, pages))
    return _DRAWN[key]


def drawn(
    song: Song, performance: Performance, tuning: Tuning, options: SheetOptions
) -> Sequence[str]:
    return sheet_svg(performance, song, options, tuning=tuning)


def chart_text(name: str) -> str:
    """Return the text of a shipped chart."""
    return (CHARTS / f"{name}.txt").read_text(encoding="utf-8")


def sections_once(name: str) -> str:
    """Return a shipped chart with every section once, which is half of it: without its form."""
    text, count = re.subn(r"^form:.*$", "", chart_text(name), flags=re.M)
    assert count == 1
    return text


def example_song(name: str) -> Song:
    """Return a shipped chart as it is read, for what asks for no note of it."""
    return parse_chart(chart_text(name), source=name)


def example(name: str, library: Library) -> Played:
    """Return a shipped chart as the shipped library has it played, once a run."""
    key = (name, name, id(library))
    if key not in _PLAYED:
        found = kept(("played", name), lambda: fingered(chart_text(name), library, name))
        _PLAYED[key] = library, found
    return _PLAYED[key][1]
