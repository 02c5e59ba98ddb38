"""``groove sheet``: the engraved part, the lead sheet, MusicXML."""

from collections.abc import Mapping
from typing import Annotated

import typer

from groove.cli.console import each_chart, say
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

PARTS = ("bass", "drums", "keys")


def sheet(
    charts: Charts,
    output: Annotated[
        str | None,
        typer.Option(
            "-o",
            "--output",
            metavar="FILE",
            help="Where to: .pdf .svg .png .musicxml .mxl, FOLDER/.",
        ),
    ] = None,
    as_: Annotated[
        str, typer.Option("--as", metavar="KIND", help="The kind for a folder.")
    ] = "pdf",
    part: Annotated[str, typer.Option(metavar="PART", help="bass, drums or keys.")] = "bass",
    chart: Annotated[
        bool, typer.Option("--chart", help="The lead sheet: bars, chords, form.")
    ] = False,
    numerals: Annotated[
        bool, typer.Option("--numerals", help="Numerals under the lead sheet's chords.")
    ] = False,
    only: Annotated[str, typer.Option(metavar="STAVES", help="notation, tab or both.")] = "both",
    size: Annotated[
        str, typer.Option(metavar="SIZE", help="a4, letter, landscape, stand or phone.")
    ] = "a4",
    fingers: Annotated[
        bool, typer.Option("--fingers", help="The fretting hand's fingers.")
    ] = False,
    pluck: Annotated[bool, typer.Option("--pluck", help="The plucking hand's letters.")] = False,
    unrolled: Annotated[bool, typer.Option("--unrolled", help="Every repeat written out.")] = False,
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
    from groove.cli.sheeting import SheetJob, chosen, sheet_target, write_sheet
    from groove.cut import piece
    from groove.events import Part
    from groove.io.charts import read_song
    from groove.io.config import read_config
    from groove.io.library import load_library
    from groove.neck.fingering import finger_performance
    from groove.pipeline import moved_song, perform_song, song_tuning
    from groove.sheet.options import Only, SheetOptions, Size
    from groove.sheet.swings import section_swings

    config = read_config()
    library = load_library(patterns)
    whole = perform_options(
        config,
        tempo=tempo,
        feel=feel,
        transpose=transpose,
        key=key,
        seed=seed,
        tight=True,
        tuning=tuning,
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
    paper = SheetOptions(
        size=Size(chosen("--size", size, tuple(Size))),
        only=Only(chosen("--only", only, tuple(Only))),
        part=Part(chosen("--part", part, PARTS)),
        chart=chart,
        fingers=fingers,
        pluck=pluck,
        numerals=numerals,
        unrolled=unrolled,
    )
    targets = {name: sheet_target(name, len(charts), output, as_) for name in charts}

    def work(name: str) -> Mapping[str, object] | str:
        song = read_song(name)
        played = perform_song(song, library, whole)
        strings = song_tuning(song, whole)
        if paper.part is Part.BASS:
            played, _ = finger_performance(played, tuning=strings, options=hand)
        job = SheetJob(
            song=moved_song(song, whole),
            performance=piece(played, asked.sections, asked.bars),
            options=paper,
            tuning=strings,
            swings=section_swings(song, library, feel=feel),
        )
        files = write_sheet(job, targets[name])
        for file in files:
            say(f"wrote {file}")
        return {"format": 1, "chart": name, "files": [str(f) for f in files]} if json else ""

    raise typer.Exit(each_chart(charts, work, as_json=json))
