"""What a chart says that is read and not played yet, so that nobody is misled."""

from groove.chart.model import Song, Vary


def waiting_notices(song: Song) -> list[str]:
    """Return what is told of settings that are read and not yet played."""
    tables = (song.settings, *(section.settings for section in song.sections))
    varied = any(settings.vary not in (None, Vary.NONE) for settings in tables)
    return ["vary is read and not played yet"] if varied else []
