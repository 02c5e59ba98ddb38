"""How long a song may be for each kind of output: what is longer fills a machine's memory.

All other outputs are made of every song that can be read (``groove.chart.form.MOST_PLAYED_BARS``);
sound ends after an hour (``groove.io.synth.MOST_SOUND_SEC``).
"""

from typing import Literal

from groove.errors import OptionError

Drawn = Literal["practice page", "drawn sheet"]

MOST_BARS: dict[Drawn, int] = {"practice page": 3_000, "drawn sheet": 3_000}
"""The most bars of a page as played, and of a sheet as printed: under 1.5 GB, none alike."""
CURES: dict[Drawn, str] = {
    "practice page": "make a page of each part of the song",
    "drawn sheet": "choose some with --bars or --sections, or write .musicxml",
}


def check_bars(kind: Drawn, bars: int) -> None:
    """Refuse an output that would be too long.  Raises OptionError with what would do."""
    if bars > MOST_BARS[kind]:
        raise OptionError(
            f"a {kind} of {bars} bars is too long",
            hint=f"expected at most {MOST_BARS[kind]} bars: {CURES[kind]}",
        )
