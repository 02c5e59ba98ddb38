"""What a chart says that is read and not played yet, so that nobody is misled."""

from groove.chart.model import Directions, Song, Vary


def waiting_notices(song: Song) -> list[str]:
    """Return what is told of words that are read and not yet played."""
    bars = [bar for section in song.sections for bar in section.bars if waits(bar.directions)]
    numbers = ", ".join(str(bar.number) for bar in bars[:8]) + (" …" if len(bars) > 8 else "")
    told = f"hits and kicks at bar {numbers} are read and not played yet"
    tables = (song.settings, *(section.settings for section in song.sections))
    varied = any(settings.vary not in (None, Vary.NONE) for settings in tables)
    return ([told] if bars else []) + (["vary is read and not played yet"] if varied else [])


def waits(directions: Directions) -> bool:
    """Return whether directions ask the band for something that it does not play yet."""
    return bool(directions.hits or directions.kicks or directions.has_hit)
