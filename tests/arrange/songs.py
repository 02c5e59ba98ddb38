"""Charts for the arranger's tests: built from text, so that they pass through the whole house."""

from collections.abc import Callable, Sequence
from functools import lru_cache

import pytest
from hypothesis import strategies as st
from msgspec.structs import replace

from groove import pipeline
from groove.arrange.bass import BassLine
from groove.arrange.plan import Plan
from groove.arrange.spans import Span
from groove.chart.parse import parse_chart
from groove.events import Note, Part, Performance, Touch
from groove.harmony.analysis import Analysis
from groove.io.library import load_library
from groove.pipeline import PerformOptions, analyse_song, perform_analysis

PLAIN = ("D", "G", "A", "Bm", "F#m", "Em7", "A7", "Dmaj7", "C", "Eb", "F#", "B7", "Ab", "E", "Bb")
ODD = ("C#°7", "Caug", "Bm7b5", "Gsus4", "E7#9", "F5", "D/F#", "A/C#", "C/Bb", "G/A", "Am/G")
GROOVES = ("sixteenths", "broken sixteenths", "octaves", "straight eighths", "soul", "half-time")

LIBRARY = load_library()
TIGHT = PerformOptions(tight=True)


def chart(
    sections: dict[str, list[str]], *, feel: str = "sixteenths", fills: str = "none", head: str = ""
) -> str:
    """Return the text of a chart; every section is a list of bars."""
    lines = ["title: Test", "tempo: 96", "key: D", f"feel: {feel}", f"fills: {fills}", head]
    for name, bars in sections.items():
        lines += [f"{name}:", "| " + " | ".join(bars) + " |"]
    return "\n".join(lines) + "\n"


def play(text: str, options: PerformOptions = TIGHT) -> Performance:
    """Return the performance of a chart."""
    analysis = _analysed(text, replace(options, feel=None, vary=None))
    return perform_analysis(analysis, LIBRARY, options)


@lru_cache(maxsize=64)
def _analysed(text: str, options: PerformOptions) -> Analysis:
    """Return a chart read and analysed: feel and variation, which are asked for, change nothing."""
    return analyse_song(parse_chart(text), options)


def play_bass(text: str, options: PerformOptions = TIGHT) -> Performance:
    """Return what the bass plays of a chart, in half the time: the others, who follow it, rest."""
    return _play_with(text, options, arrange_drums=_rests, arrange_comping=_rests)


def play_rhythm(text: str, options: PerformOptions = TIGHT) -> Performance:
    """Return what bass and drums play of a chart; the keys, who follow the bass, rest."""
    return _play_with(text, options, arrange_comping=_rests)


def play_keys(text: str, options: PerformOptions = TIGHT) -> Performance:
    """Return what bass and keys play of a chart; the drums, whom the keys do not hear, rest."""
    return _play_with(text, options, arrange_drums=_rests)


def play_drums(text: str, options: PerformOptions = TIGHT) -> Performance:
    """Return what the drums play of a chart beside a bass that fills wherever it is asked to."""
    return _play_with(text, options, arrange_bass=_fills, arrange_comping=_rests)


def _play_with(text: str, options: PerformOptions, **players: Callable[..., object]) -> Performance:
    with pytest.MonkeyPatch.context() as patch:
        for name, player in players.items():
            patch.setattr(pipeline, name, player)
        return play(text, options)


def _rests(*_: object) -> tuple[Note, ...]:
    """Play nothing in place of drums or keys."""
    return ()


def _fills(plan: Plan, spans: Sequence[Span], fill_bars: Sequence[int], *_: object) -> BassLine:
    """Play nothing in place of the bass, who is counted on where it is to fill."""
    return BassLine((), frozenset(fill_bars), ())


def bass(performance: Performance) -> list[Note]:
    """Return the bass part."""
    return [note for note in performance.notes if note.part is Part.BASS]


def struck(performance: Performance) -> list[Note]:
    """Return the bass's sounding strokes, ghosts left out."""
    return [note for note in bass(performance) if note.touch is not Touch.GHOST]


bars = st.lists(st.sampled_from(PLAIN + ODD), min_size=4, max_size=12)

bars_of_any_kind = st.lists(
    st.one_of(
        st.sampled_from(PLAIN + ODD),
        st.tuples(st.sampled_from(PLAIN), st.sampled_from(PLAIN)).map(" ".join),
        st.tuples(st.sampled_from(PLAIN), st.sampled_from(ODD)).map(lambda p: f"{p[0]} / / {p[1]}"),
        st.sampled_from(PLAIN).map(lambda chord: f"<{chord}"),
        st.sampled_from(PLAIN).map(lambda chord: f"(stop) {chord}"),
        st.just("N.C."),
    ),
    min_size=4,
    max_size=12,
)


METERS = {name: str(feel.meter or "4/4") for name, feel in LIBRARY.feels.items()}
IN_THREES = [
    name for name, feel in LIBRARY.feels.items() if LIBRARY.bass[feel.bass].slots_per_beat == 3
]
"""Feels whose beat is felt in three: it has no sixteenth to push by."""


@st.composite
def charts_in_their_meter(draw: st.DrawFn) -> str:
    """Draw a chart of any feel, in the meter that the feel is made for, changes on any beat."""
    feel = draw(st.sampled_from(sorted(name for name in LIBRARY.feels)))
    meter = METERS.get(feel, "4/4")
    beats = {"5/4": 5, "7/8": 7, "3/4": 3, "6/8": 2, "12/8": 4}.get(meter, 4)
    word = st.one_of(st.sampled_from(PLAIN + ODD), st.just("/"), st.just("N.C."))
    spelled = st.lists(word, min_size=beats - 1, max_size=beats - 1).map(
        lambda words: " ".join(["D", *words]) if "/" in words else "D"
    )
    one = st.one_of(st.sampled_from(PLAIN + ODD), spelled)
    written = draw(st.lists(one, min_size=4, max_size=10))
    return chart({"verse": ["D", *written]}, feel=feel, head=f"meter: {meter}")


@st.composite
def charts(draw: st.DrawFn, feels: tuple[str, ...] = GROOVES) -> str:
    """Draw a chart of one to three sections."""
    names = ("verse", "chorus", "bridge")[: draw(st.integers(1, 3))]
    return chart(
        {name: ["D", "G", *draw(bars_of_any_kind)] for name in names},
        feel=draw(st.sampled_from(feels)),
        fills=draw(st.sampled_from(("none", "few", "many"))),
    )
