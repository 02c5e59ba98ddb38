"""``groove sheet``: the engraved part, the lead sheet, MusicXML."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated

import typer

from groove.cli.console import each_chart
from groove.cli.options import (
    Bars,
    Charts,
    Feel,
    Frame,
    Frets,
    InKey,
    Json,
    MaxFret,
    OpenStrings,
    Patterns,
    Scale,
    Sections,
    Seed,
    Start,
    Tempo,
    Transpose,
    Tuning,
)

OutputFile = Annotated[
    str | None,
    typer.Option(
        "-o",
        "--output",
        metavar="FILE",
        help="Where to: .pdf .svg .png .musicxml .mxl, FOLDER/.",
    ),
]
FolderKind = Annotated[str, typer.Option("--as", metavar="KIND", help="The kind for a folder.")]
PartName = Annotated[str, typer.Option(metavar="PART", help="bass, drums or keys.")]
LeadSheet = Annotated[bool, typer.Option("--chart", help="The lead sheet: bars, chords, form.")]
Numerals = Annotated[
    bool, typer.Option("--numerals", help="Numerals under the lead sheet's chords.")
]
Staves = Annotated[str, typer.Option(metavar="STAVES", help="notation, tab or both.")]
PaperSize = Annotated[
    str, typer.Option(metavar="SIZE", help="a4, letter, landscape, stand or phone.")
]
Fingers = Annotated[bool, typer.Option("--fingers", help="The fretting hand's fingers.")]
Pluck = Annotated[bool, typer.Option("--pluck", help="The plucking hand's letters.")]
Unrolled = Annotated[bool, typer.Option("--unrolled", help="Every repeat written out.")]


def sheet(
    charts: Charts,
    output: OutputFile = None,
    as_: FolderKind = "pdf",
    part: PartName = "bass",
    chart: LeadSheet = False,
    numerals: Numerals = False,
    only: Staves = "both",
    size: PaperSize = "a4",
    fingers: Fingers = False,
    pluck: Pluck = False,
    unrolled: Unrolled = False,
    sections: Sections = None,
    bars: Bars = None,
    tempo: Tempo = None,
    feel: Feel = None,
    transpose: Transpose = 0,
    key: InKey = None,
    seed: Seed = None,
    tuning: Tuning = None,
    open_strings: OpenStrings = "free",
    start: Start = None,
    max_fret: MaxFret = None,
    frame: Frame = None,
    frets: Frets = None,
    scale: Scale = None,
    patterns: Patterns = None,
    json: Json = False,
) -> None:
    """Engrave the part with tab, a lead sheet, or write MusicXML."""
    from groove.cli.performing import neck_options, perform_options
    from groove.cli.sheeting import SheetMaker, sheet_options, sheet_targets
    from groove.cli.targets import Outputs
    from groove.io.config import read_config
    from groove.io.library import load_library

    config = read_config()
    paper = sheet_options(size, only, part, chart=chart, numerals=numerals, unrolled=unrolled)
    paper = replace(paper, fingers=fingers, pluck=pluck)
    whole = perform_options(
        config, tempo=tempo, feel=feel, transpose=transpose, key=key, seed=seed, tuning=tuning
    )
    asked = perform_options(config, sections=sections, bars=bars)
    hand = neck_options(
        config,
        open_strings=open_strings,
        start=start,
        max_fret=max_fret,
        frame=frame,
        frets=frets,
        scale=scale,
    )
    outputs = Outputs(charts, patterns=patterns)
    targets = sheet_targets(charts, output, as_, outputs)
    maker = SheetMaker(
        paper=paper,
        whole=whole,
        asked=asked,
        hand=hand,
        library=load_library(patterns),
        outputs=outputs,
    )

    def work(name: str) -> Mapping[str, object] | str:
        return maker.written(name, targets[name], as_json=json)

    raise typer.Exit(each_chart(targets, work, as_json=json))
