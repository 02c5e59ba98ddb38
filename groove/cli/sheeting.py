"""One sheet written to its files; imported only when a sheet is made."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from groove.chart.written_for import WrittenFor
from groove.cli.jobs import Result
from groove.cli.performing import print_cut, print_reading
from groove.cli.targets import Job, Kinds, Outputs
from groove.cli.values import BAND, chosen, parse_player
from groove.errors import OptionError
from groove.events import Part
from groove.io.files import make_folders, write_whole
from groove.io.library import load_library
from groove.io.lined import song_with_line
from groove.io.sheets import Sheet, song_sheet
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions
from groove.sheet.options import SheetOptions, Size, Staves

if TYPE_CHECKING:
    from groove.cli.sheet import PaperOptions

SHEET_KINDS = Kinds(suffixes=(".pdf", ".svg", ".png", ".musicxml", ".mxl"))

NO_JUMP = "no D.S. or D.C. saves lines here, so every bar stands where it is played"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMaker:
    """What was asked for, once for all charts."""

    paper: SheetOptions
    performing: PerformOptions
    hand: NeckOptions
    patterns: Path | None
    line: str | None
    as_json: bool

    def written(self, job: Job, *, outputs: Outputs, announce: Callable[[str], None]) -> Result:
        """Write a chart's sheet, tell so; return what is said of it on standard output."""
        library = load_library(self.patterns)
        song = song_with_line(job.chart, self.line, library, self.performing)
        made = song_sheet(song, library, self.paper, performing=self.performing, hand=self.hand)
        print_reading(made.song, made.performance.notices)
        print_cut(made.performance)
        if self.paper.jumps and not made.has_jump:
            announce(NO_JUMP)
        make_folders(job.folders)
        files = [file for target in job.files for file in _write_sheet(made, target, outputs)]
        for file in files:
            announce(f"wrote {file}")
        if not self.as_json:
            return ""
        return {"format": 1, "chart": job.chart, "files": [str(file) for file in files]}


def sheet_options(asked: "PaperOptions") -> SheetOptions:
    """Return how a sheet is set, from the words of the options."""
    return SheetOptions(
        size=Size(chosen("--size", asked.size, tuple(Size))),
        staves=Staves(chosen("--staves", asked.staves, tuple(Staves))) if asked.staves else None,
        part=Part(chosen("--part", asked.part, BAND)),
        chart=asked.chart,
        written_for=_written_for(asked),
        numerals=asked.numerals,
        letters=asked.letters,
        sim=asked.sim,
        jumps=asked.jumps,
        written_out=asked.written_out,
        fingers=asked.fingers,
        pluck=asked.pluck,
    )


def _written_for(asked: "PaperOptions") -> WrittenFor | None:
    """Return whom the chord chart is for.  Raises OptionError for nobody, and for a part."""
    found = parse_player(asked.for_)
    if found and not asked.chart:
        raise OptionError(
            "--for writes the chord chart for another player: --for without --chart",
            hint="add --chart; --key and --transpose move the part",
        )
    return found


def _write_sheet(sheet: Sheet, target: Path, outputs: Outputs) -> list[Path]:
    """Write a sheet; pages of pictures are numbered where there are several."""
    pages = _sheet_files(sheet, target.suffix.casefold())
    files = [target]
    if len(pages) > 1:
        numbers = range(1, len(pages) + 1)
        files = [target.with_name(f"{target.stem}-{number}{target.suffix}") for number in numbers]
        for file in files:
            outputs.claim(file)
    for file, page in zip(files, pages, strict=True):
        write_whole(file, page)
    return files


def _sheet_files(sheet: Sheet, suffix: str) -> Sequence[bytes]:
    """Return a sheet as the files of one kind: a picture a page, else one."""
    if suffix == ".svg":
        return [page.encode() for page in sheet.svg()]
    if suffix == ".png":
        return sheet.png()
    if suffix == ".musicxml":
        return [sheet.musicxml().encode()]
    return [sheet.mxl() if suffix == ".mxl" else sheet.pdf()]
