"""``groove neck``: where the part lies, how the hand moves, two ways compared."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from groove.cli.console import each_chart, say
from groove.cli.options import (
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
    Seed,
    Start,
    Tempo,
    Transpose,
    Tuning,
    refused,
)
from groove.cli.targets import Outputs, require_folder
from groove.errors import NeckError, OptionError
from groove.events import Part, Performance

if TYPE_CHECKING:
    from groove.neck.fingering import FingeredLine
    from groove.neck.instrument import Tuning as Strings
    from groove.neck.options import NeckOptions


def neck(
    charts: Charts,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FILE.svg", help="Draw the roots on the neck."),
    ] = None,
    compare: Annotated[
        str | None, typer.Option(metavar="A,B", help="Two starting frets side by side, as 2,7.")
    ] = None,
    tuning: Tuning = None,
    open_strings: OpenStrings = "free",
    start: Start = None,
    max_fret: MaxFret = None,
    frame: Frame = None,
    frets: Frets = None,
    scale: Scale = None,
    thumb: Annotated[bool, typer.Option("--thumb", help="Pluck with the thumb.")] = False,
    tempo: Tempo = None,
    feel: Feel = None,
    transpose: Transpose = 0,
    key: InKey = None,
    seed: Seed = None,
    patterns: Patterns = None,
    json: Json = False,
) -> None:
    """Show where the roots lie on the neck and how the fretting hand moves."""
    from groove.cli.performing import neck_options, perform_options, play_chart, tell_notices
    from groove.io.config import read_config
    from groove.neck.report import compare_data, neck_data
    from groove.pipeline import song_tuning
    from groove.text.neck import compare_text, neck_text
    from groove.text.notices import notice_texts

    if output and (output.suffix.casefold() != ".svg" or len(charts) > 1):
        hint = "expected one chart and a file ending in .svg"
        raise OptionError(f"cannot draw the neck to {output}", hint=hint)
    if output:
        require_folder(output)
        Outputs(charts, patterns=patterns).claim(output)
    config = read_config()
    options = perform_options(
        config,
        tempo=tempo,
        feel=feel,
        transpose=transpose,
        key=key,
        seed=seed,
        tight=True,
        tuning=tuning,
    )
    hand = neck_options(
        config,
        open_strings=open_strings,
        start=start,
        max_fret=max_fret,
        frame=frame,
        frets=frets,
        scale=scale,
        thumb=thumb,
    )
    starts = parse_compare(compare)

    def work(name: str) -> Mapping[str, object] | str:
        analysis, performance = play_chart(name, options, patterns)
        song = analysis.song
        tell_notices(performance)
        ways = fingered_ways(performance, song_tuning(song, options), hand, starts)
        if output:
            draw(output, ways[0], song.title)
        if json:
            data = compare_data(ways) if starts else neck_data(ways[0], performance.bars)
            notices = notice_texts(performance.notices)
            return {"format": 1, "chart": name, "notices": notices, **data}
        if starts:
            return compare_text(*ways, title=song.title)
        return neck_text(ways[0], performance.bars, title=song.title)

    raise typer.Exit(each_chart(charts, work, as_json=json))


def fingered_ways(
    performance: Performance, tuning: "Strings", hand: "NeckOptions", starts: Sequence[int]
) -> "list[FingeredLine]":
    """Return the bass line fingered from each starting fret, once where none is given."""
    from groove.neck.fingering import finger_line, first_root_frets

    bass = performance.part_notes(Part.BASS)
    try:
        return [
            finger_line(bass, tempo_map=performance.tempo_map, tuning=tuning, options=way)
            for way in ([replace(hand, start_fret=fret) for fret in starts] or [hand])
        ]
    except NeckError as error:
        error.hint += compare_hint(starts, first_root_frets(bass, tuning, hand))
        raise


def draw(output: Path, line: "FingeredLine", title: str) -> None:
    """Draw the places of the roots to a file."""
    from groove.io.files import write_whole
    from groove.neck.report import root_places
    from groove.sheet.neck_svg import neck_svg

    scale_length_mm = line.options.scale_length_mm
    drawing = neck_svg(root_places(line), line.tuning, title=title, scale_length_mm=scale_length_mm)
    write_whole(output, drawing.encode())
    say(f"wrote {output}")


def parse_compare(text: str | None) -> list[int]:
    """Return the two starting frets of ``2,7``, none where nothing is to be compared."""
    if text is None:
        return []
    match = re.fullmatch(r"\s*([0-9]{1,2})\s*,\s*([0-9]{1,2})\s*", text)
    if not match or match[1] == match[2]:
        raise refused("--compare", text, "two frets, as 2,7")
    return [int(match[1]), int(match[2])]


def compare_hint(starts: Sequence[int], frets: Sequence[int]) -> str:
    """Return the command that would do where the first root is not on a starting fret."""
    right = [fret for fret in starts if fret in frets]
    if len(right) == len(starts) or len(frets) < 2:
        return ""
    low, high = sorted([*right, *(fret for fret in frets if fret not in right)][:2])
    return f"; would do: --compare {low},{high}"
