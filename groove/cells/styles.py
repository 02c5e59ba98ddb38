"""Feels by the words that players call a style by: ``funk``, ``reggae``, ``swing``.

A feel lists the words itself.  A feel's own name stands above any word; where several feels carry
a word, the one that fits the bar and the tempo best is taken (common practice, no source).
"""

from fractions import Fraction

from groove.cells.library import feel_serves, find_feel
from groove.cells.model import Feel, Library
from groove.naming import fold_name
from groove.timing import Meter

_FAR_OUTSIDE = 1.15
"""From how many times too slow or too fast a player is told of it (common practice, no source)."""


def feels_of_style(library: Library, word: str) -> list[Feel]:
    """Return the feels that carry a word, in alphabetical order."""
    style = fold_name(word)
    return [feel for feel in library.feels.values() if style in map(fold_name, feel.also)]


def named_feels(library: Library, name: str) -> list[Feel]:
    """Return the feel of a name, or all that carry it as a style; none where nothing does."""
    feel = find_feel(library, name)
    return [feel] if feel else feels_of_style(library, name)


def styles_of(library: Library) -> list[str]:
    """Return every word that a feel carries, in alphabetical order."""
    words = {fold_name(word): word for feel in library.feels.values() for word in feel.also}
    return [words[style] for style in sorted(words)]


def best_feel(
    library: Library, feels: list[Feel], word: str, meter: Meter, pulse_bpm: float
) -> Feel:
    """Return which of the feels of a word is played in a meter at a tempo.

    The meter stands first: a feel whose bar has as many beats, then one that can be fitted; then
    the tempo, ``pulse_bpm`` in beats of the cells a minute; then for which feel the word is the
    most usual; then whose tempi it is nearest the middle of.
    """
    style = fold_name(word)

    def misfit(feel: Feel) -> tuple[int, float, int, float]:
        low, high = _pulse_range(feel, meter)
        return (
            _meter_misfit(library, feel, meter),
            _tempo_misfit(feel, meter, pulse_bpm),
            [fold_name(each) for each in feel.also].index(style),
            abs(pulse_bpm / (low + high) - 0.5),
        )

    return min(feels, key=misfit)


def missed_tempi(feel: Feel, meter: Meter, pulse_bpm: float) -> dict[str, str]:
    """Return ``made_for`` and ``tempo`` where a song's tempo is far outside a feel's, else nothing.

    Both are in the beats of ``meter`` that a tempo counts; ``pulse_bpm`` is as for ``best_feel``.
    """
    if _tempo_misfit(feel, meter, pulse_bpm) <= _FAR_OUTSIDE:
        return {}
    scale = float(meter.pulse_quarters / meter.tempo_unit_quarters)
    low, high = _pulse_range(feel, meter)
    made_for = f"{meter.tempo_symbol} {low * scale:g}-{high * scale:g}"
    return {"made_for": made_for, "tempo": f"{pulse_bpm * scale:g}"}


def _tempo_misfit(feel: Feel, meter: Meter, pulse_bpm: float) -> float:
    """Return how many times too slow or too fast a tempo is for a feel, 1 within its tempi."""
    low, high = _pulse_range(feel, meter)
    return max(low / pulse_bpm, pulse_bpm / high, 1.0)


def _meter_misfit(library: Library, feel: Feel, meter: Meter) -> int:
    """Return 0 for a feel whose bar has a meter's beats, 1 for one that is fitted, else 2."""
    if not feel_serves(library, feel, meter):
        return 2
    return int(feel.meter is not None and feel.meter.pulse_count != meter.pulse_count)


def _pulse_range(feel: Feel, meter: Meter) -> tuple[float, float]:
    """Return a feel's slowest and fastest tempo in beats of its cells a minute."""
    own = feel.meter or meter
    scale = Fraction(own.tempo_unit_quarters) / own.pulse_quarters
    low, high = feel.tempo_beats
    return float(low * scale), float(high * scale)
