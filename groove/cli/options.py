"""Options that several commands share, in groups: a new one is one line in one class.

Every group says with ``choices`` which fields of ``PerformOptions`` its options are.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer
from msgspec import Struct

from groove.chart.form import MOST_TIMES_OVER
from groove.chart.model import Vary
from groove.chart.settings import LARGEST_SEED, TRANSPOSE_SEMITONES
from groove.cli.values import chosen, parse_bars, parse_names, parse_tempo, parse_wanted_key
from groove.errors import OptionError
from groove.neck.instrument import FRET_COUNTS, parse_tuning

MOST_FRETS = FRET_COUNTS.stop - 1
LEAST_SEMITONES, _MOST_SEMITONES = TRANSPOSE_SEMITONES.start, TRANSPOSE_SEMITONES.stop - 1

SECTIONS_EXPECTED = "names of sections, e.g. verse,chorus"

Choices = Mapping[str, object]
"""Fields of ``PerformOptions`` by name."""


def output_option(text: str, *, metavar: str = "FILE") -> Any:
    """Return ``-o`` with a command's own help."""
    return typer.Option("-o", "--output", metavar=metavar, help=text)


def kinds_option(text: str) -> Any:
    """Return ``--as`` with a command's own help."""
    return typer.Option("--as", metavar="KINDS", help=text)


Charts = Annotated[
    list[str], typer.Argument(metavar="CHART...", help="Charts to read; - for standard input.")
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print one JSON object per chart, a line each.")
]
Patterns = Annotated[
    Path | None,
    typer.Option(metavar="FOLDER", help="A folder of your own cells and feels, searched first."),
]
Soundfont = Annotated[str | None, typer.Option(metavar="FILE", help="The soundfont to play with.")]
ForOption = Annotated[
    str | None,
    typer.Option("--for", metavar="Bb|Eb|capo N", help="Whom the chords are written for."),
]
TuningOption = Annotated[
    str | None,
    typer.Option(
        metavar="NAME", help="four, five, six, drop D ..., or open strings: 'D1 A1 D2 G2'."
    ),
]


class Moved(Struct, frozen=True, kw_only=True):
    """Which key a song stands in."""

    transpose: Annotated[
        int,
        typer.Option(
            metavar="SEMITONES", min=LEAST_SEMITONES, max=_MOST_SEMITONES, help="Move every chord."
        ),
    ] = 0
    key: Annotated[str | None, typer.Option(metavar="KEY", help="The key to play in.")] = None

    def choices(self) -> Choices:
        """Return what is asked of the performance."""
        if self.key is not None and self.transpose:
            raise OptionError(
                f"--key {self.key} beside --transpose {self.transpose}",
                hint="expected one of the two: each says where the song stands",
            )
        return {"transpose": self.transpose, "key": parse_wanted_key(self.key)}


class Arranged(Struct, frozen=True, kw_only=True):
    """What the band plays of a song."""

    feel: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="A feel or a style, in place of the chart's."),
    ] = None
    vary: Annotated[
        str | None,
        typer.Option(
            metavar="none|some|much", help="How much a section changes when it comes again."
        ),
    ] = None
    moved: Moved
    seed: Annotated[
        int | None,
        typer.Option(
            metavar="N", min=0, max=LARGEST_SEED, help="Draw other fills and another touch."
        ),
    ] = None

    def choices(self) -> Choices:
        """Return what is asked of the performance."""
        vary = Vary(chosen("--vary", self.vary, Vary)) if self.vary is not None else None
        return {"feel": self.feel, "vary": vary, "seed": self.seed, **self.moved.choices()}


class Played(Struct, frozen=True, kw_only=True):
    """What the band plays of a song, and how fast."""

    tempo: Annotated[
        str | None, typer.Option(metavar="BPM|%", help="Another tempo: beats a minute, or 70%.")
    ] = None
    arranged: Arranged

    def choices(self) -> Choices:
        """Return what is asked of the performance."""
        bpm, percent = parse_tempo(self.tempo)
        return {"tempo_bpm": bpm, "tempo_percent": percent, **self.arranged.choices()}


class BarOptions(Struct, frozen=True, kw_only=True):
    """Which bars of a song."""

    sections: Annotated[
        str | None, typer.Option(metavar="NAMES", help="Only these sections, e.g. verse,chorus.")
    ] = None
    bars: Annotated[
        str | None, typer.Option(metavar="A-B", help="Only these bars of the chart, e.g. 5-8.")
    ] = None

    def choices(self) -> Choices:
        """Return what is asked of the performance."""
        sections = parse_names(self.sections, "--sections", SECTIONS_EXPECTED)
        return {"sections": sections, "bars": parse_bars(self.bars)}


class Loop(BarOptions, frozen=True, kw_only=True):
    """Which bars of a song, and how often."""

    times: Annotated[
        int, typer.Option(metavar="N", min=1, max=MOST_TIMES_OVER, help="Play it N times.")
    ] = 1

    def choices(self) -> Choices:
        """Return what is asked of the performance."""
        return {"times": self.times, **super().choices()}


class HandOptions(Struct, frozen=True, kw_only=True):
    """The bass in the player's hands, and where on its neck the player wants to be."""

    tuning: TuningOption = None
    open_strings: Annotated[
        str, typer.Option("--open", metavar="yes|no|free", help="Whether to play open strings.")
    ] = "free"
    start: Annotated[
        int | None,
        typer.Option(
            metavar="FRET",
            min=0,
            max=MOST_FRETS,
            help="Play the first root at this fret, and stay there.",
        ),
    ] = None
    max_fret: Annotated[
        int | None,
        typer.Option(metavar="FRET", min=1, max=MOST_FRETS, help="Go no higher than this fret."),
    ] = None
    span: Annotated[
        int | None,
        typer.Option(
            metavar="4|3", min=3, max=4, help="Frets under the hand: a finger per fret, or 1-2-4."
        ),
    ] = None
    frets: Annotated[
        int | None,
        typer.Option(
            metavar="N", min=FRET_COUNTS.start, max=MOST_FRETS, help="How many frets the neck has."
        ),
    ] = None
    scale_length: Annotated[
        str | None,
        typer.Option(metavar="LENGTH", help="The scale length of your bass, e.g. 34 in, 864 mm."),
    ] = None

    def choices(self) -> Choices:
        """Return what is asked of the performance."""
        return tuning_choices(self.tuning)


class PluckingHand(HandOptions, frozen=True, kw_only=True):
    """The same with what plucks the strings."""

    thumb: Annotated[bool, typer.Option("--thumb", help="Pluck with the thumb.")] = False


class Answer(Struct, frozen=True, kw_only=True):
    """What is read beside a chart, and how a command answers."""

    line: Annotated[
        str | None,
        typer.Option(
            metavar="FILE.mid|PART", help="The bass line: of a MIDI file, or a part of the score."
        ),
    ] = None
    patterns: Patterns = None
    json: JsonOption = False


class WatchingAnswer(Answer, frozen=True, kw_only=True):
    """The same for a command whose files can be made again."""

    watch: Annotated[
        bool, typer.Option("--watch", help="Make it again at every change, until Ctrl-C.")
    ] = False


def tuning_choices(tuning: str | None) -> Choices:
    """Return what a tuning asks of the performance."""
    return {"tuning": parse_tuning(tuning) if tuning else None}
