"""A chart with the bass line that is asked for: a part of the score, or a MIDI file's track."""

import re
from pathlib import Path

from groove.cells.model import Library
from groove.chart.model import Song
from groove.io.charts import as_chart, read_chart, read_limited, read_song
from groove.pipeline import PerformOptions

MIDI_FILE = re.compile(r"(?P<file>.+\.midi?)(?::(?P<track>.+))?", re.IGNORECASE | re.DOTALL)


def line_file(line: str | None) -> Path | None:
    """Return the file that a line is read from, None where the chart's own has it."""
    found = MIDI_FILE.fullmatch(line) if line else None
    return Path(found["file"]) if found else None


def song_with_line(name: str, line: str | None, library: Library, options: PerformOptions) -> Song:
    """Return the song of a chart's file with a line under its bars.

    ``line`` is a MIDI file (``bass.mid``, with a track as ``bass.mid:2``), or the part of a score
    that is the bass line, by number or name; None takes the chart as it is.  ``library`` and the
    feel of ``options`` say how the song swings.  Raises what reading a chart does, MidiError, and
    OptionError for a part of what has no parts.
    """
    found = MIDI_FILE.fullmatch(line) if line else None
    if not line or not found:
        return read_song(name, line or "")
    from groove.io.midi_contents import LARGEST_MIDI_BYTES
    from groove.io.midi_line import song_with_midi

    data = read_limited(found["file"], LARGEST_MIDI_BYTES, "expected a MIDI file's name")
    song = read_song(name)
    return song_with_midi(song, data, found["file"], found["track"] or "", library, options)


def chart_with_line(
    name: str, line: str | None, library: Library, options: PerformOptions, *, asks_text: bool
) -> tuple[str, Song]:
    """Return the song of ``song_with_line``, and where it is asked for the text of its chart."""
    if not asks_text:
        return "", song_with_line(name, line, library, options)
    if not line:
        return read_chart(name)
    return as_chart(song_with_line(name, line, library, options), name)
