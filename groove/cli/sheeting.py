"""One sheet written to its files; imported only when a sheet is made."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from msgspec import structs

from groove.cells.model import Library
from groove.chart.model import Song
from groove.cli.console import say
from groove.cli.options import LONGEST_SHOWN
from groove.cli.performing import tell_cut, tell_reading
from groove.cli.targets import STDIN_STEM, Outputs, is_folder, require_folder
from groove.cut import piece
from groove.errors import OptionError, nearest_hint
from groove.events import Part, Performance
from groove.harmony.analysis import Analysis
from groove.io.charts import STANDARD_INPUT, chart_stem, every_tune, read_song
from groove.io.engrave import scored, sheet_pdf, sheet_png, sheet_svg
from groove.io.files import make_folders, write_whole
from groove.neck.fingering import finger_performance
from groove.neck.instrument import Tuning
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions, analyse_song, perform_analysis, song_tuning
from groove.sheet.musicxml import musicxml_text, mxl_bytes
from groove.sheet.options import Only, SheetOptions, Size

KINDS = (".pdf", ".svg", ".png", ".musicxml", ".mxl")
PARTS = ("bass", "drums", "keys")
SCORE_KINDS = (".musicxml", ".mxl")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetJob:
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

    def written(self, name: str, target: Path, *, as_json: bool) -> Mapping[str, object] | str:
        """Write a chart's sheet; return what is said of it on standard output."""
        job = self.job(name)
        tell_reading(job.song)
        files = write_sheet(job, target, self.outputs)
        for file in files:
            say(f"wrote {file}")
        return {"format": 1, "chart": name, "files": [str(f) for f in files]} if as_json else ""

    def job(self, name: str) -> SheetJob:
        """Return what a chart's sheet is made of: the whole song is arranged, then cut."""
        options = structs.replace(self.whole, tight=True)
        analysis = analyse_song(read_song(name), options)
        song = analysis.song
        performance = perform_analysis(analysis, self.library, options)
        tuning = song_tuning(song, options)
        if self.paper.part is Part.BASS:
            performance, _ = finger_performance(performance, tuning=tuning, options=self.hand)
        cut = piece(performance, self.asked.sections, self.asked.bars)
        tell_cut(cut, performance)
        return SheetJob(
            analysis=analysis,
            performance=cut,
            options=self.paper,
            tuning=tuning,
        )


def sheet_options(
    size: str, only: str, part: str, *, chart: bool, numerals: bool, unrolled: bool
) -> SheetOptions:
    """Return how a sheet is set, from the words of the options."""
    return SheetOptions(
        size=Size(chosen("--size", size, tuple(Size))),
        only=Only(chosen("--only", only, tuple(Only))),
        part=Part(chosen("--part", part, PARTS)),
        chart=chart,
        numerals=numerals,
        unrolled=unrolled,
    )


def chosen(option: str, found: str, known: Iterable[str]) -> str:
    """Return a word of a fixed set.  Raises OptionError with the nearest."""
    names = [str(name) for name in known]
    if found.casefold() in names:
        return found.casefold()
    near = nearest_hint(found, names)
    hint = "; ".join(filter(None, (near, "expected one of: " + ", ".join(names))))
    raise OptionError(f"{option} cannot be {found[:LONGEST_SHOWN]!r}", hint=hint)


def sheet_targets(
    charts: Sequence[str], output: str | None, kind: str, outputs: Outputs
) -> dict[str, Path]:
    """Return the file of every chart's sheet."""
    names = every_tune(charts) if output and is_folder(output) else charts
    files = [(name, sheet_target(name, len(charts), output, kind)) for name in names]
    for name, file in files:
        outputs.claim(file, chart=name)
    return dict(files)


def sheet_target(chart: str, count: int, output: str | None, kind: str) -> Path:
    """Return the file of a chart's sheet: as named, in a folder, or a PDF beside the chart."""
    stem = STDIN_STEM if chart == STANDARD_INPUT else chart_stem(chart)
    suffix = "." + chosen("--as", kind, [known.removeprefix(".") for known in KINDS])
    if output is None:
        return (Path() if chart == STANDARD_INPUT else Path(chart).parent) / f"{stem}{suffix}"
    if is_folder(output):
        return Path(output) / f"{stem}{suffix}"
    if count > 1:
        hint = "expected a folder: -o sheets/"
        raise OptionError(f"one file, {output}, for {count} charts", hint=hint)
    if Path(output).suffix.casefold() not in KINDS:
        hint = "expected a name ending in one of: " + ", ".join(KINDS)
        raise OptionError(f"cannot write a sheet to {output}", hint=hint)
    require_folder(Path(output))
    return Path(output)


def write_sheet(job: SheetJob, target: Path, outputs: Outputs) -> list[Path]:
    """Write a sheet; pages of pictures are numbered where there are several."""
    suffix = target.suffix.casefold()
    make_folders([target.parent])
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


def whole_file(job: SheetJob, suffix: str) -> bytes:
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


def picture_pages(job: SheetJob, suffix: str) -> list[bytes]:
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
