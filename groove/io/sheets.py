"""A song's sheet as every kind of file: made once, written as it is asked for."""

from dataclasses import dataclass

from msgspec.structs import replace

from groove.cells.model import Library
from groove.chart.model import Song
from groove.cut import piece
from groove.errors import OptionError
from groove.events import Part, Performance
from groove.harmony.analysis import Analysis
from groove.io.engrave import scored, sheet_pdf, sheet_png, sheet_svg
from groove.neck.fingering import finger_performance
from groove.neck.instrument import Tuning
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions, analyse_song, perform_analysis, song_tuning
from groove.sheet.musicxml import musicxml_text, mxl_bytes
from groove.sheet.options import SheetOptions, Staves


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What a sheet shows, and the files that it can be.

    Each raises OutputError where a library that draws is missing.
    """

    analysis: Analysis
    performance: Performance
    options: SheetOptions
    tuning: Tuning

    def __repr__(self) -> str:
        """Return what it is a sheet of."""
        what = "chord chart" if self.options.chart else self.options.part
        return f"<Sheet {self.performance.title!r:.50} {what}, {len(self.performance.bars)} bars>"

    @property
    def song(self) -> Song:
        """The song in the key that it is written in."""
        return self.analysis.song

    def pdf(self) -> bytes:
        """Return the sheet as PDF, on the paper of its options."""
        return sheet_pdf(
            self.performance, self.song, self.options, tuning=self.tuning, analysis=self.analysis
        )

    def svg(self) -> tuple[str, ...]:
        """Return a drawing a page."""
        return sheet_svg(
            self.performance, self.song, self.options, tuning=self.tuning, analysis=self.analysis
        )

    def png(self) -> tuple[bytes, ...]:
        """Return a picture a page, 144 pixels an inch."""
        return sheet_png(
            self.performance, self.song, self.options, tuning=self.tuning, analysis=self.analysis
        )

    @property
    def has_jump(self) -> bool:
        """Whether a D.S. or D.C. stands in the part, where its options ask for one."""
        score = scored(self.performance, self.song, self.options, self.tuning)
        return any(measure.jumps for measure in score.measures)

    def musicxml(self) -> str:
        """Return the part as MusicXML 4.0.  Raises OptionError for a chord chart."""
        if self.options.chart:
            raise OptionError(
                "a chord chart is drawn, not written as MusicXML",
                hint="leave --chart out, or use .pdf",
            )
        score = scored(self.performance, self.song, self.options, self.tuning)
        options = self.options
        return musicxml_text(
            score,
            self.song,
            fingers=options.fingers,
            pluck=options.pluck,
            staves=options.staves or Staves.NOTATION,
        )

    def mxl(self) -> bytes:
        """Return the part as compressed MusicXML.  Raises OptionError for a chord chart."""
        return mxl_bytes(self.musicxml())


def song_sheet(
    song: Song,
    library: Library,
    sheet: SheetOptions,
    *,
    performing: PerformOptions,
    hand: NeckOptions,
) -> Sheet:
    """Return a song's sheet: the whole song is arranged and fingered, then cut.

    Raises ChartError, OptionError and NeckError for what cannot be done.
    """
    options = replace(performing, tight=True, sections=(), bars=None, times=1, click=False)
    analysis = analyse_song(song, options)
    performance = perform_analysis(analysis, library, options)
    tuning = song_tuning(analysis.song, options)
    if sheet.part is Part.BASS:
        performance, _ = finger_performance(performance, tuning=tuning, options=hand)
    cut = piece(performance, performing.sections, performing.bars)
    return Sheet(analysis=analysis, performance=cut, options=sheet, tuning=tuning)
