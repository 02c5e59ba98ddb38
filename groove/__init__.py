"""From a chord chart to a bass part, a band to practise with, and the pages to hand on.

The names below are the same way that the command line goes: text → song → performance → bytes.

    import groove

    performance = groove.perform_chart(text, groove.load_library())
    data = groove.midi_bytes(performance)

They are loaded when they are first asked for, so that ``import groove`` costs nothing.
"""

from importlib import import_module

TYPE_CHECKING = False  # what typing calls so: loading that takes longer than all the rest here
if TYPE_CHECKING:
    from groove.chart.parse import parse_chart
    from groove.chart.write import write_chart
    from groove.cut import cut_bars, only_parts, with_click, with_count_in
    from groove.errors import GrooveError
    from groove.events import Note, Part, Performance
    from groove.io.library import load_library
    from groove.io.midi import midi_bytes
    from groove.io.synth import audio_samples
    from groove.pipeline import PerformOptions, perform_chart, perform_song

PUBLIC_NAMES = {
    "GrooveError": "groove.errors",
    "Note": "groove.events",
    "Part": "groove.events",
    "PerformOptions": "groove.pipeline",
    "Performance": "groove.events",
    "audio_samples": "groove.io.synth",
    "cut_bars": "groove.cut",
    "load_library": "groove.io.library",
    "midi_bytes": "groove.io.midi",
    "only_parts": "groove.cut",
    "parse_chart": "groove.chart.parse",
    "perform_chart": "groove.pipeline",
    "perform_song": "groove.pipeline",
    "with_click": "groove.cut",
    "with_count_in": "groove.cut",
    "write_chart": "groove.chart.write",
}
"""Every public name and the module that has it."""

__all__ = [
    "GrooveError",
    "Note",
    "Part",
    "PerformOptions",
    "Performance",
    "audio_samples",
    "cut_bars",
    "load_library",
    "midi_bytes",
    "only_parts",
    "parse_chart",
    "perform_chart",
    "perform_song",
    "with_click",
    "with_count_in",
    "write_chart",
]


def __getattr__(name: str) -> object:
    """Return a public name, its module loaded now."""
    if name not in PUBLIC_NAMES:
        raise AttributeError(f"module 'groove' has no attribute {name!r}")
    found: object = getattr(import_module(PUBLIC_NAMES[name]), name)
    globals()[name] = found
    return found
