"""``groove neck``: where the part lies, how the hand moves, two fingerings compared."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from groove.cli.jobs import Result, each_job, write_file
from groove.cli.options import (
    Answer,
    Charts,
    Played,
    PluckingHand,
    output_option,
)
from groove.cli.targets import Job, Kinds, Outputs, plan_jobs
from groove.cli.values import refused
from groove.errors import OptionError
from groove.events import Part, Performance

if TYPE_CHECKING:
    from groove.neck.fingering import FingeredLine
    from groove.neck.instrument import Tuning
    from groove.neck.options import NeckOptions
    from groove.pipeline import PerformOptions

_KINDS = Kinds(suffixes=(".svg",), printed=True)


def neck(
    charts: Charts,
    *,
    output: Annotated[
        str | None,
        output_option("Draw the roots on the neck.", metavar="FILE.svg"),
    ] = None,
    compare: Annotated[
        str | None, typer.Option(metavar="A,B", help="Two hand positions side by side, e.g. 2,7.")
    ] = None,
    keys: Annotated[
        bool, typer.Option("--keys", help="What every key asks of the hand, one line each.")
    ] = False,
    hand: PluckingHand,
    played: Played,
    answer: Answer,
) -> None:
    """Show where the roots lie and how the fretting hand moves."""
    from groove.cli.performing import neck_options, perform_options
    from groove.io.config import read_config

    claimed = Outputs(charts, patterns=answer.patterns, line=answer.line)
    jobs = plan_jobs(charts, [output], _KINDS, claimed=claimed)
    config = read_config()
    options = perform_options(config, played.choices(), hand.choices(), tight=True)
    player = neck_options(config, hand, thumb=hand.thumb)
    positions = _parse_compare(compare)
    if keys and (output or positions):
        other = "--output" if output else "--compare"
        raise OptionError(
            f"--keys prints a table of all keys: --keys with {other}",
            hint="leave one of them out",
        )

    def work(job: Job) -> Result:
        if keys:
            return _key_table(job.chart, options, player, answer)
        return _fingered_chart(job, options, player, positions, answer)

    raise typer.Exit(each_job(jobs, work, as_json=answer.json))


def _fingered_chart(
    job: Job,
    options: "PerformOptions",
    player: "NeckOptions",
    positions: Sequence[int],
    answer: Answer,
) -> Result:
    """Return how the part of a chart is fingered, its roots drawn where that was asked for."""
    from groove.cli.performing import play_chart, print_notices
    from groove.neck.stated import stated_notices
    from groove.pipeline import song_tuning

    analysis, performance = play_chart(job.chart, options, answer.patterns, answer.line)
    written = stated_notices(performance.part_notes(Part.BASS), player)
    performance = replace(performance, notices=(*performance.notices, *written))
    print_notices(performance)
    lines = _fingerings(performance, song_tuning(analysis.song, options), player, positions)
    if job.file:
        write_file(job, _drawing(lines[0], performance.title))
    if answer.json:
        return {"format": 1, "chart": job.chart, **_lines_data(lines, performance)}
    return _lines_text(lines, performance)


def _key_table(
    chart: str, options: "PerformOptions", hand: "NeckOptions", answer: Answer
) -> Result:
    """Return what the part of a chart asks of the hand in every key."""
    from groove.cli.performing import print_reading
    from groove.io.library import load_library
    from groove.io.lined import song_with_line
    from groove.text.neck_keys import figures_by_key, keys_data, keys_text

    library = load_library(answer.patterns)
    song = song_with_line(chart, answer.line, library, options)
    print_reading(song)
    ways = list(figures_by_key(song, library, options, hand))
    if answer.json:
        return {"format": 1, "chart": chart, **keys_data(ways)}
    return keys_text(ways, title=song.title)


def _fingerings(
    performance: Performance, tuning: "Tuning", hand: "NeckOptions", positions: Sequence[int]
) -> "list[FingeredLine]":
    """Return the bass line fingered in each position, once where none is given."""
    from groove.neck.fingering import finger_line

    bass = performance.part_notes(Part.BASS)
    players = [replace(hand, start_fret=None, position_fret=fret) for fret in positions]
    return [
        finger_line(bass, tempo_map=performance.tempo_map, tuning=tuning, options=player)
        for player in players or [hand]
    ]


def _lines_data(lines: "Sequence[FingeredLine]", performance: Performance) -> dict[str, object]:
    """Return what one fingering asks of the hand as data, or two beside each other."""
    from groove.text.neck_data import compare_data, neck_data
    from groove.text.notices import notice_texts

    data = compare_data(lines) if len(lines) > 1 else neck_data(lines[0], performance.bars)
    return {"notices": notice_texts(performance.notices), **data}


def _lines_text(lines: "Sequence[FingeredLine]", performance: Performance) -> str:
    """Return one fingering in words, or two compared."""
    from groove.text.neck import compare_text, neck_text

    if len(lines) > 1:
        return compare_text(*lines, title=performance.title)
    return neck_text(lines[0], performance.bars, title=performance.title)


def _drawing(line: "FingeredLine", title: str) -> bytes:
    """Return the places of the roots drawn on the neck, as SVG."""
    from groove.neck.line_figures import root_places
    from groove.sheet.neck_svg import neck_svg

    scale_length_mm = line.options.scale_length_mm
    drawn = neck_svg(root_places(line), line.tuning, title=title, scale_length_mm=scale_length_mm)
    return drawn.encode()


def _parse_compare(text: str | None) -> list[int]:
    """Return the two positions of ``2,7``, none where nothing is to be compared."""
    if text is None:
        return []
    match = re.fullmatch(r"\s*([0-9]{1,2})\s*,\s*([0-9]{1,2})\s*", text)
    if not match or match[1] == match[2]:
        raise refused("--compare", text, "two frets, as 2,7")
    return [int(match[1]), int(match[2])]
