"""``groove sheet``: the engraved part, the chord chart, MusicXML."""

from functools import partial
from typing import Annotated

import typer
from msgspec import Struct

from groove.cli.options import (
    BarOptions,
    Charts,
    ForOption,
    HandOptions,
    Played,
    WatchingAnswer,
    kinds_option,
    output_option,
)
from groove.errors import OptionError

USUAL_KIND = "pdf"


class SheetFiles(Struct, frozen=True, kw_only=True):
    """Which files are written."""

    output: Annotated[
        list[str] | None,
        output_option("Where to: .pdf .svg .png .musicxml .mxl, FOLDER/."),
    ] = None
    as_: Annotated[
        str,
        kinds_option("Kinds of files for a folder, e.g. pdf,mxl."),
    ] = USUAL_KIND


class PaperOptions(Struct, frozen=True, kw_only=True):
    """What stands on the page, and on which paper."""

    part: Annotated[str, typer.Option(metavar="PART", help="bass, drums or keys.")] = "bass"
    chart: Annotated[bool, typer.Option("--chart", help="The chord chart: bars, chords, form.")] = (
        False
    )
    for_: ForOption = None
    numerals: Annotated[
        bool, typer.Option("--numerals", help="Roman numerals under the chords of the chord chart.")
    ] = False
    staves: Annotated[
        str | None,
        typer.Option(
            metavar="STAVES",
            help="notation, tab or both, which is usual but in MusicXML: there it is notation.",
        ),
    ] = None
    size: Annotated[
        str, typer.Option(metavar="SIZE", help="a4, letter, landscape, stand or phone.")
    ] = "a4"
    letters: Annotated[
        bool, typer.Option("--letters", help="Rehearsal letters beside the sections' names.")
    ] = False
    sim: Annotated[
        bool, typer.Option("--sim", help="Slashes, and sim., where a section's cell stays.")
    ] = False
    jumps: Annotated[
        bool, typer.Option("--jumps", help="D.S., D.C. and coda where they save lines.")
    ] = False
    fingers: Annotated[
        bool, typer.Option("--fingers", help="Show the fretting hand's fingers.")
    ] = False
    pluck: Annotated[bool, typer.Option("--pluck", help="Show the plucking hand: i, m, p.")] = False
    written_out: Annotated[bool, typer.Option("--written-out", help="Write every repeat out.")] = (
        False
    )


def sheet(
    charts: Charts,
    files: SheetFiles,
    paper: PaperOptions,
    piece: BarOptions,
    played: Played,
    hand: HandOptions,
    answer: WatchingAnswer,
) -> None:
    """Engrave the part with tab, or the chord chart; or write MusicXML."""
    _check_paper(paper)
    from groove.cli.jobs import each_job
    from groove.cli.performing import neck_options, perform_options
    from groove.cli.sheeting import SHEET_KINDS, SheetMaker, sheet_options
    from groove.cli.targets import Outputs, plan_jobs
    from groove.cli.values import parse_names
    from groove.cli.watching import Round, follow
    from groove.io.config import read_config

    config = read_config()
    maker = SheetMaker(
        paper=sheet_options(paper),
        performing=perform_options(config, played.choices(), hand.choices(), piece.choices()),
        hand=neck_options(config, hand),
        patterns=answer.patterns,
        line=answer.line,
        as_json=answer.json,
    )
    kinds = parse_names(files.as_, "--as", "kinds of sheets, e.g. pdf,musicxml")
    asked = kinds if files.as_ != USUAL_KIND else ()

    def make(now: Round) -> int:
        claimed = Outputs(charts, patterns=answer.patterns, line=answer.line)
        jobs = plan_jobs(charts, files.output or [], SHEET_KINDS, asked=asked, claimed=claimed)
        work = partial(maker.written, outputs=claimed, announce=now.announce)
        return each_job(now.chosen(jobs), work, as_json=answer.json)

    raise typer.Exit(follow(make, charts, answer))


def _check_paper(paper: PaperOptions) -> None:
    """Refuse a part beside the chord chart."""
    if paper.chart and paper.part != "bass":
        raise OptionError(
            f"--part {paper.part} beside --chart",
            hint="expected one of the two: the chord chart is everybody's",
        )
