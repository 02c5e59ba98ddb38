"""From a chord chart to a bass part, a band to practise with, and the pages to hand on.

The names below are the same way that the command line goes: text → song → performance → bytes.

    import groove

    song = groove.parse_chart(text)
    band = groove.perform_song(song)
    data = groove.midi_bytes(band)

They are loaded when they are first asked for, so that ``import groove`` costs nothing.
"""

from importlib import import_module

TYPE_CHECKING = False  # what typing calls so: loading that takes longer than all the rest here
if TYPE_CHECKING:
    __version__: str
    from groove.bar_place import BarRef
    from groove.cells.model import Library
    from groove.chart.model import Section, Song, Vary, WrittenBar
    from groove.chart.parse import parse_chart
    from groove.chart.write import write_chart
    from groove.cut import only_parts, piece, with_click, with_count_in
    from groove.errors import (
        ChartError,
        GrooveError,
        NeckError,
        OptionError,
        OutputError,
        SoundError,
    )
    from groove.events import (
        Bar,
        ChordOnset,
        Note,
        Origin,
        Part,
        Performance,
        PitchRule,
        Place,
        Reason,
        Role,
        Touch,
    )
    from groove.harmony.analysis import Analysis, analyse
    from groove.io.audio import audio_bytes
    from groove.io.charts import read_song
    from groove.io.library import load_library
    from groove.io.loudness import Gain, level_gain
    from groove.io.midi import midi_bytes
    from groove.io.practice_page import PracticePage
    from groove.io.sheets import Sheet
    from groove.io.synth import RenderedAudio
    from groove.neck.fingering import FingeredLine, finger_performance
    from groove.neck.instrument import Tuning, parse_tuning
    from groove.neck.options import NeckOptions
    from groove.notebook import make_page, make_sheet, perform_chart, perform_song, render_audio
    from groove.notices import Notice
    from groove.pipeline import PerformOptions
    from groove.sheet.options import SheetOptions, Size, Staves
    from groove.text.notices import notice_texts
    from groove.text.reasons import reason_text
    from groove.text.tab import tab_text
    from groove.theory.chords import Chord, parse_chord
    from groove.theory.keys import Key, parse_key
    from groove.timing import TICKS_PER_QUARTER, Meter, TempoMap

__all__ = [
    "TICKS_PER_QUARTER",
    "Analysis",
    "Bar",
    "BarRef",
    "ChartError",
    "Chord",
    "ChordOnset",
    "FingeredLine",
    "Gain",
    "GrooveError",
    "Key",
    "Library",
    "Meter",
    "NeckError",
    "NeckOptions",
    "Note",
    "Notice",
    "OptionError",
    "Origin",
    "OutputError",
    "Part",
    "PerformOptions",
    "Performance",
    "PitchRule",
    "Place",
    "PracticePage",
    "Reason",
    "RenderedAudio",
    "Role",
    "Section",
    "Sheet",
    "SheetOptions",
    "Size",
    "Song",
    "SoundError",
    "Staves",
    "TempoMap",
    "Touch",
    "Tuning",
    "Vary",
    "WrittenBar",
    "analyse",
    "audio_bytes",
    "finger_performance",
    "level_gain",
    "load_library",
    "make_page",
    "make_sheet",
    "midi_bytes",
    "notice_texts",
    "only_parts",
    "parse_chart",
    "parse_chord",
    "parse_key",
    "parse_tuning",
    "perform_chart",
    "perform_song",
    "piece",
    "read_song",
    "reason_text",
    "render_audio",
    "tab_text",
    "with_click",
    "with_count_in",
    "write_chart",
]

_HOMES = {
    "groove.bar_place": "BarRef",
    "groove.cells.model": "Library",
    "groove.chart.model": "Section Song Vary WrittenBar",
    "groove.chart.parse": "parse_chart",
    "groove.chart.write": "write_chart",
    "groove.cut": "only_parts piece with_click with_count_in",
    "groove.errors": "ChartError GrooveError NeckError OptionError OutputError SoundError",
    "groove.notices": "Notice",
    "groove.events": "Bar ChordOnset Note Origin Part Performance PitchRule Place Reason "
    "Role Touch",
    "groove.harmony.analysis": "Analysis analyse",
    "groove.io.audio": "audio_bytes",
    "groove.io.charts": "read_song",
    "groove.io.library": "load_library",
    "groove.io.loudness": "Gain level_gain",
    "groove.io.midi": "midi_bytes",
    "groove.io.practice_page": "PracticePage",
    "groove.io.sheets": "Sheet",
    "groove.io.synth": "RenderedAudio",
    "groove.neck.fingering": "FingeredLine finger_performance",
    "groove.neck.instrument": "Tuning parse_tuning",
    "groove.neck.options": "NeckOptions",
    "groove.notebook": "make_page make_sheet perform_chart perform_song render_audio",
    "groove.pipeline": "PerformOptions",
    "groove.sheet.options": "SheetOptions Size Staves",
    "groove.text.notices": "notice_texts",
    "groove.text.reasons": "reason_text",
    "groove.text.tab": "tab_text",
    "groove.theory.chords": "Chord parse_chord",
    "groove.theory.keys": "Key parse_key",
    "groove.timing": "Meter TICKS_PER_QUARTER TempoMap",
}
"""The module of every public name."""


if not TYPE_CHECKING:

    def __getattr__(name: str) -> object:
        """Return a public name, its module loaded now, or the version that is installed."""
        if name == "__version__":
            return _version()
        for home, names in _HOMES.items():
            if name in names.split():
                found: object = getattr(import_module(home), name)
                globals()[name] = found
                return found
        raise AttributeError(f"module 'groove' has no attribute {name!r}")


def _version() -> str:
    """Return the version of the installed package; of a bare checkout one that sorts first."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("groove")
    except PackageNotFoundError:
        return "0+checkout"


def __dir__() -> list[str]:
    """Return the public names, which a notebook completes."""
    return __all__
