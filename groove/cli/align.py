"""``groove align``: where the bars of a chart stand in a record."""

from pathlib import Path
from typing import Annotated

import typer
from msgspec import Struct

from groove.cli.console import put, put_json
from groove.cli.jobs import write_file
from groove.cli.options import Answer, Played, output_option
from groove.cli.targets import MIDI_SUFFIXES, Kinds, Outputs, plan_jobs
from groove.errors import OptionError

LATEST_FIRST_SEC = 36_000.0
_KINDS = Kinds(suffixes=MIDI_SUFFIXES, printed=True)


class RecordFiles(Struct, frozen=True, kw_only=True):
    """What is written of a record."""

    output: Annotated[
        str | None, output_option("The band on the record's time, as MIDI: .mid.")
    ] = None
    click: Annotated[bool, typer.Option("--click", help="A click on every beat in that file.")] = (
        False
    )


class RecordOptions(Struct, frozen=True, kw_only=True):
    """What the player knows of the record."""

    first: Annotated[
        float | None,
        typer.Option(
            metavar="SECONDS",
            min=0,
            max=LATEST_FIRST_SEC,
            help="Where in the record bar 1 begins (the pickup, if there is one).",
        ),
    ] = None
    taps: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Seconds that you tapped with the record: beats or bars, from bar 1 on.",
        ),
    ] = None


def align(
    chart: Annotated[str, typer.Argument(metavar="CHART", help="The song, as it is played.")],
    file: Annotated[str, typer.Argument(metavar="FILE", help="The record: your own copy of it.")],
    files: RecordFiles,
    played: Played,
    options: RecordOptions,
    answer: Answer,
) -> None:
    """Say where each bar of a chart stands in a record, and how sure that is."""
    from groove.cli.aligning import like_midi, play_beside, record_beside
    from groove.record.record_report import align_data, align_text
    from groove.text.chart import played_form

    if files.click and files.output is None:
        raise OptionError("--click goes into a file", hint="add -o like.mid")
    if options.taps and options.first is not None:
        raise OptionError("--first beside --taps", hint="the first tap is where bar 1 begins")
    claimed = Outputs(
        [chart, file, *([str(options.taps)] if options.taps else [])],
        patterns=answer.patterns,
        line=answer.line,
    )
    [job] = plan_jobs([chart], [files.output], _KINDS, claimed=claimed)
    song, performance = play_beside(chart, played, answer)
    heard, lines = record_beside(
        performance,
        file,
        first_sec=options.first,
        taps=options.taps,
        keeps_tempo=played.tempo is not None,
    )
    given = played_form(song, "x")
    if answer.json:
        data = align_data(heard, performance.bars, lines, given=given)
        put_json({"format": 1, "chart": chart, "record": file, **data})
    else:
        title = f"{performance.title or chart} in {file}"
        put(align_text(heard, performance.bars, lines, title=title, given=given))
    if job.file:
        write_file(job, like_midi(performance, heard, with_clicks=files.click))
