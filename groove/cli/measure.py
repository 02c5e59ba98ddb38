"""``groove feels --measure``: every feel played at three tempi, and what comes out."""

import os
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from groove.cells.model import Feel, Library
from groove.cli.console import put, put_json
from groove.errors import SoundError
from groove.measure import FeelFigures, measure, measured_performance, measured_tempos

_HEAD = (
    f"{'feel':<20}{'tempo':>6}{'kick with bass':>16}{'sounding':>10}{'ghosts':>8}"
    f"{'ghosts under':>14}{'leaps > 8ve':>13}{'top fret':>10}"
)
_LEGEND = """
tempo           in the feel's own beat a minute
kick with bass  the kicks that fall on a stroke of the bass
sounding        the part of the time in which the bass sounds
ghosts          the bass's strokes that are ghosts
ghosts under    how much softer they sound than the notes beside them
leaps > 8ve     leaps of more than an octave
top fret        the highest fret needed on a four-string
"""


def measure_feels(library: Library, feels: Iterable[Feel], *, as_json: bool) -> None:
    """Print the figures of some feels, and what the columns are."""
    if not as_json:
        put(_HEAD)
    for feel in feels:
        for tempo_bpm in measured_tempos(feel):
            figures = measure(library, feel, tempo_bpm)
            under_db = ghosts_under_db(library, feel, tempo_bpm) if figures.ghost_share else None
            if as_json:
                put_json({"format": 1, **asdict(figures), "ghosts_under_db": under_db})
            else:
                put(_figures_text(figures, under_db))
    if not as_json:
        put(_LEGEND)


def _figures_text(figures: FeelFigures, under_db: float | None) -> str:
    """Return one row of the table."""
    kick = "–" if figures.kick_agreement is None else f"{figures.kick_agreement:.0%}"
    under = "–" if under_db is None else f"{under_db:.1f} dB"
    return (
        f"{figures.feel:<20}{figures.tempo_bpm:>6}{kick:>16}{figures.sounding_share:>10.0%}"
        f"{figures.ghost_share:>8.0%}{under:>14}{figures.wide_leaps:>13}{figures.highest_fret:>10}"
    )


def ghosts_under_db(library: Library, feel: Feel, tempo_bpm: int) -> float | None:
    """Return how far ghosts lie under their neighbours in the rendered bass, None without sound."""
    from groove.cut import only_parts
    from groove.events import Part
    from groove.io.config import read_config
    from groove.io.ghosts import ghost_levels_db
    from groove.io.midi import midi_bytes
    from groove.io.soundfont import choose_soundfont
    from groove.io.synth import audio_samples

    bass = only_parts(measured_performance(library, feel, tempo_bpm), {Part.BASS})
    try:
        font = choose_soundfont(None, os.environ, read_config().soundfont)
        rendered: Any = audio_samples(
            bass, font=font.path, part_midi=lambda part: midi_bytes(bass, parts=(part,))
        )
    except SoundError:
        return None
    levels = ghost_levels_db(bass, rendered.stems[Part.BASS], rendered.sample_rate)
    return sum(levels) / len(levels) if levels else None
