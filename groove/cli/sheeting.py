"""One sheet written to its files; imported only when a sheet is made."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from groove.cells.model import Library
from groove.chart.model import Song
from groove.cli.console import say
from groove.cli.jobs import Result
from groove.cli.performing import tell_cut, tell_reading
from groove.cli.targets import Job, Kinds, Outputs
from groove.cli.values import BAND, chosen
from groove.cut import piece
from groove.errors import OptionError
from groove.events import Part, Performance
from groove.harmony.analysis import Analysis
from groove.io.charts import read_song
from groove.io.engrave import scored, sheet_pdf, sheet_png, sheet_svg
from groove.io.files import make_folders, write_whole
from groove.neck.fingering import finger_performance
from groove.neck.instrument import Tuning
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions, analyse_song, perform_analysis, song_tuning
from groove.sheet.musicxml import musicxml_text, mxl_bytes
from groove.sheet.options import Only, SheetOptions, Size

if TYPE_CHECKING:
    from groove.cli.sheet import Paper

KINDS = Kinds(suffixes=(".pdf", ".svg", ".png", ".musicxml", ".mxl"))
SCORE_KINDS = (".musicxml", ".mxl")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What a sheet is made of."""

    analysis: Analysis
    performance: Performance
    options: SheetOptions
    tuning: Tuning

    @property
    def song(self) -> Song:
        """The song in the key that it is written in."""
        return self.analysis.song


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMaker:
    """What was asked for, once for all charts.

    ``whole`` is how the song is performed, ``asked`` the sections and bars of it that are written.
    """

    paper: SheetOptions
    whole: PerformOptions
    asked: PerformOptions
    hand: NeckOptions
    library: Library
    outputs: Outputs
    as_json: bool

    def written(self, job: Job) -> Result:
        """Write a chart's sheet; return what is said of it on standard output."""
        made = self.sheet(job.chart)
        tell_reading(made.song)
        make_folders(job.folders)
        files = [file for target in job.files for file in write_sheet(made, target, self.outputs)]
        for file in files:
            say(f"wrote {file}")
        if not self.as_json:
            return ""
        return {"format": 1, "chart": job.chart, "files": [str(file) for file in files]}

    def sheet(self, name: str) -> Sheet:
        """Return what a chart's sheet is made of: the whole song is arranged, then cut."""
        options = self.whole
        analysis = analyse_song(read_song(name), options)
        song = analysis.song
        performance = perform_analysis(analysis, self.library, options)
        tuning = song_tuning(song, options)
        if self.paper.part is Part.BASS:
            performance, _ = finger_performance(performance, tuning=tuning, options=self.hand)
        cut = piece(performance, self.asked.sections, self.asked.bars)
        tell_cut(cut, performance)
        return Sheet(
            analysis=analysis,
            performance=cut,
            options=self.paper,
            tuning=tuning,
        )


def sheet_options(asked: "Paper") -> SheetOptions:
    """Return how a sheet is set, from the words of the options."""
    return SheetOptions(
        size=Size(chosen("--size", asked.size, tuple(Size))),
        only=Only(chosen("--only", asked.only, tuple(Only))),
        part=Part(chosen("--part", asked.part, BAND)),
        chart=asked.chart,
        numerals=asked.numerals,
        unrolled=asked.unrolled,
        fingers=asked.fingers,
        pluck=asked.pluck,
    )


def write_sheet(job: Sheet, target: Path, outputs: Outputs) -> list[Path]:
    """Write a sheet; pages of pictures are numbered where there are several."""
    suffix = target.suffix.casefold()
    if suffix in SCORE_KINDS or suffix == ".pdf":
        write_whole(target, whole_file(job, suffix))
        return [target]
    pages = picture_pages(job, suffix)
    files = [target]
    if len(pages) > 1:
        numbers = range(1, len(pages) + 1)
        files = [target.with_name(f"{target.stem}-{number}{suffix}") for number in numbers]
        for file in files:
            outputs.claim(file)
    for file, page in zip(files, pages, strict=True):
        write_whole(file, page)
    return files


def whole_file(job: Sheet, suffix: str) -> bytes:
    """Return a sheet that is one file: PDF or MusicXML."""
    if suffix == ".pdf":
        return sheet_pdf(
            job.performance, job.song, job.options, tuning=job.tuning, analysis=job.analysis
        )
    if job.options.chart:
        raise OptionError(
            "a lead sheet is drawn, not written as MusicXML", hint="leave --chart out, or use .pdf"
        )
    score = scored(job.performance, job.song, job.options, job.tuning)
    text = musicxml_text(score, job.song, fingers=job.options.fingers, pluck=job.options.pluck)
    return mxl_bytes(text) if suffix == ".mxl" else text.encode()


def picture_pages(job: Sheet, suffix: str) -> list[bytes]:
    """Return the pages of a sheet as pictures."""
    if suffix == ".png":
        pages = sheet_png(
            job.performance, job.song, job.options, tuning=job.tuning, analysis=job.analysis
        )
        return list(pages)
    drawn = sheet_svg(
        job.performance, job.song, job.options, tuning=job.tuning, analysis=job.analysis
    )
    return [page.encode() for page in drawn]
