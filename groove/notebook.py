"""What a notebook or a script of one's own asks for, each in one call.

The steps are those of the command line; what it finds by itself is found here too: the shipped
cells and feels, the soundfont that the environment or the player's configuration names.
"""

import os
from typing import TYPE_CHECKING

from groove.chart.parse import parse_chart
from groove.io.library import load_library
from groove.pipeline import PerformOptions, analyse_song, perform_analysis, song_tuning
from groove.pipeline import perform_song as perform_with

if TYPE_CHECKING:
    from groove.cells.model import Library
    from groove.chart.model import Song
    from groove.events import Part, Performance
    from groove.io.practice_page import PracticePage
    from groove.io.sheets import Sheet
    from groove.io.soundfont import SoundfontChoice
    from groove.io.synth import RenderedAudio
    from groove.neck.options import NeckOptions
    from groove.sheet.options import SheetOptions

CD_RATE_HZ = 44_100


def perform_chart(
    text: str,
    library: "Library | None" = None,
    options: PerformOptions | None = None,
    *,
    source: str = "chart",
) -> "Performance":
    """Return what the band plays of a chart's text.

    ``library`` has the cells and feels that it may name (None: the shipped ones); ``source`` is
    the chart's name in errors.  Raises ChartError, with line and column, for what cannot be read
    or has no such feel or cell, OptionError for what cannot be done.
    """
    return perform_song(parse_chart(text, source=source), library, options)


def perform_song(
    song: "Song", library: "Library | None" = None, options: PerformOptions | None = None
) -> "Performance":
    """Return what the band plays of a song.  Raises as ``perform_chart`` does."""
    return perform_with(song, library or load_library(), options or PerformOptions())


def make_sheet(
    song: "Song",
    sheet: "SheetOptions | None" = None,
    *,
    options: PerformOptions | None = None,
    hand: "NeckOptions | None" = None,
    library: "Library | None" = None,
) -> "Sheet":
    """Return a song's part, or its chord chart, to be had as PDF, SVG, PNG and MusicXML.

    ``options`` choose key, feel, tuning and the bars that are written, ``hand`` where the bass is
    fingered.  Raises ChartError, OptionError, and NeckError for a part that no hand can play.
    """
    from groove.io.sheets import song_sheet
    from groove.neck.options import NeckOptions
    from groove.sheet.options import SheetOptions

    return song_sheet(
        song,
        library or load_library(),
        sheet or SheetOptions(),
        performing=options or PerformOptions(),
        hand=hand or NeckOptions(),
    )


def make_page(
    song: "Song",
    *,
    options: PerformOptions | None = None,
    hand: "NeckOptions | None" = None,
    library: "Library | None" = None,
    soundfont: str | None = None,
) -> "PracticePage":
    """Return the practice page of a song: ``html`` is the whole of it, to be saved as one file.

    ``soundfont`` is the path of an .sf2 or .sf3 file (None: as ``render_audio``).  Raises
    SoundError where no sound can be made, else as ``make_sheet``.
    """
    from groove.io.lengths import check_bars
    from groove.io.practice_page import practice_page
    from groove.neck.fingering import finger_performance

    options = options or PerformOptions()
    analysis = analyse_song(song, options)
    check_bars("practice page", len(analysis.bars))
    performance = perform_analysis(analysis, library or load_library(), options)
    tuning = song_tuning(analysis.song, options)
    placed, _ = finger_performance(performance, tuning=tuning, options=hand)
    font = _font(soundfont)
    return practice_page(placed, analysis, font=font.path, tuning=tuning)


def render_audio(
    performance: "Performance", *, soundfont: str | None = None, sample_rate: int = CD_RATE_HZ
) -> "RenderedAudio":
    """Return a performance as sound: ``mix`` and, by part, ``stems``, before any levelling.

    Both are float32 of shape (frames, 2), full scale 1.0, and end with two seconds in which the
    last notes ring.  ``soundfont`` is the path of an .sf2 or .sf3 file; None takes what
    GROOVE_SOUNDFONT or the player's configuration names, else the General MIDI font that is
    installed with groove.  ``sample_rate`` is in Hz.  Raises SoundError where no sound can be made
    or an hour is exceeded.
    """
    from groove.io.midi import midi_bytes
    from groove.io.synth import audio_samples

    def part_midi(part: "Part") -> bytes:
        return midi_bytes(performance, parts=(part,))

    font = _font(soundfont)
    return audio_samples(performance, font=font.path, part_midi=part_midi, sample_rate=sample_rate)


def _font(soundfont: str | None) -> "SoundfontChoice":
    """Return the soundfont that sounds: the named one, else what the machine is set to."""
    from groove.io.config import read_config
    from groove.io.soundfont import choose_soundfont

    return choose_soundfont(soundfont, os.environ, read_config().soundfont)
