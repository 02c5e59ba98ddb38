"""What a chart says that is read and not played yet, so that nobody is misled."""

from msgspec import structs

from groove.chart.model import NO_DIRECTIONS, Directions, Song, Vary


def written_notice(song: Song) -> list[str]:
    """Return what is told of lines that are read and not yet played."""
    every = [bar for section in song.sections for bar in section.bars]
    told = {
        "the notes written under": [bar.number for bar in every if bar.line],
        "the words to the band at": [bar.number for bar in every if waits(bar.directions)],
    }
    texts = [
        f"{what} bar {', '.join(map(str, bars[:8]))}{' …' if len(bars) > 8 else ''} are read and "
        "not played yet"
        for what, bars in told.items()
        if bars
    ]
    tables = (song.settings, *(section.settings for section in song.sections))
    varied = any(settings.vary not in (None, Vary.NONE) for settings in tables)
    return texts + (["vary is read and not played yet"] if varied else [])


def waits(directions: Directions) -> bool:
    """Return whether directions ask the band for something that it does not play yet."""
    plain = structs.replace(
        directions,
        dynamic=None,
        swell=None,
        feel=None,
        has_ritard=False,
        tag=0,
        has_segno=False,
        has_coda=False,
        jump=None,
    )
    return plain != NO_DIRECTIONS
