"""A bass part in all twelve keys: what each of them asks of the hand, in words and as data."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from msgspec import structs

from groove.cells.model import Library
from groove.chart.model import Song
from groove.errors import ChartError, NeckError
from groove.events import Part
from groove.neck.fingering import finger_line
from groove.neck.line_figures import FingeringFigures, fingering_figures
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions, analyse_song, perform_song, song_tuning
from groove.theory.keys import Key

KEY_MOVES = range(-5, 7)
"""From five half steps down to six up: every key once, by the shorter way."""
_COLUMNS = {
    "shifts": "shifts",
    "hard_shifts": "hard",
    "travel_mm": "travel",
    "stretches": "stretches",
    "open_strings": "open",
    "above_seventh": "above 7th",
}


@dataclass(frozen=True, slots=True)
class KeyFigures:
    """A part in one key, ``semitones`` from the one asked for.

    It has no figures where it does not lie on the instrument, which ``problem`` tells.
    """

    key: Key
    semitones: int
    figures: FingeringFigures | None
    problem: str = ""


def figures_by_key(
    song: Song, library: Library, options: PerformOptions, hand: NeckOptions
) -> Iterator[KeyFigures]:
    """Yield the bass part of a song in every key, the one that is asked for among them.

    The band moves with the key, so that each line is the one that is played there.  Raises
    ChartError and OptionError for what cannot be played in any key.
    """
    tuning = song_tuning(song, options)
    asked = analyse_song(song, options).key
    for semitones in KEY_MOVES:
        key = asked.moved(semitones)
        try:
            performance = perform_song(song, library, _moved(options, semitones))
            line = finger_line(
                performance.part_notes(Part.BASS),
                tempo_map=performance.tempo_map,
                tuning=tuning,
                options=hand,
            )
        except (ChartError, NeckError) as error:
            if not semitones:
                raise
            yield KeyFigures(key, semitones, None, error.message)
            continue
        yield KeyFigures(key, semitones, fingering_figures(line))


def _moved(options: PerformOptions, semitones: int) -> PerformOptions:
    if options.key:
        return structs.replace(options, key=options.key.moved(semitones))
    return structs.replace(options, transpose=options.transpose + semitones)


def keys_text(ways: Sequence[KeyFigures], *, title: str) -> str:
    """Return the table of keys, and the three in which the hand travels least."""
    heads = "".join(f"{name:>{len(name) + 3}}" for name in _COLUMNS.values())
    rows = [title, "", f"{'':<14}{'move':>5}{heads}", *map(_row, ways), ""]
    playable = sorted((way.figures.travel_mm, way.key.name) for way in ways if way.figures)
    least = [f"{name} {travel:.0f} mm" for travel, name in playable[:3]]
    if least:
        rows.append("The hand travels least in " + ", then ".join(least))
    return "\n".join(rows) + "\n"


def _row(way: KeyFigures) -> str:
    head = f"{way.key.name:<14}{f'{way.semitones:+d}' if way.semitones else '0':>5}"
    if way.figures is None:
        return f"{head}   {way.problem}"
    return head + "".join(
        f"{getattr(way.figures, field):>{len(name) + 3}.0f}" for field, name in _COLUMNS.items()
    )


def keys_data(ways: Sequence[KeyFigures]) -> dict[str, Any]:
    """Return the same as plain values."""
    return {
        "keys": [
            {
                "key": way.key.name,
                "semitones": way.semitones,
                **(_rounded(way.figures) if way.figures else {"problem": way.problem}),
            }
            for way in ways
        ],
    }


def _rounded(figures: FingeringFigures) -> dict[str, Any]:
    return asdict(figures) | {"travel_mm": round(figures.travel_mm, 1)}
