"""How a song grows, told in words: one line for every time that a section is played."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from groove.arrange.arrangement import Arrangement
from groove.arrange.plan import BarPlan, Plan
from groove.cells.conditions import BarFacts, condition_of, takes_touch
from groove.cells.model import BassCell, LineKind
from groove.neck.instrument import Tuning
from groove.theory.pitch import pitch_name

OF_BARS = {
    "before a chorus": "leading on",
    "touch": "a touch",
    "turnaround": "a turnaround",
    "answer": "an answer",
}
"""What a bass bar under a condition is called that picks bars of a phrase."""

OF_SECTIONS = {
    "second figure": "the second figure",
    "third figure": "the third figure",
    "last chorus": "the last chorus's own bars",
    "chorus": "the chorus's own bars",
    "build": "building up",
    "thin": "thinned out",
    "intro": "the intro's own bars",
    "last time": "the last time's own bars",
    "second time": "the second time's own bars",
}
"""The same under one that holds for a whole section.  What comes and goes all the time, at the end
of a phrase or over a held chord, the map of a song leaves out."""


def arrangement_text(plan: Plan, tuning: Tuning) -> str:
    """Return how each time of each section is played, one a line.

    Bars are those of the chart; ``tuning`` is the one that the part is written for.
    """
    rows = [(_title(bars), "; ".join(_words(bars, tuning))) for bars in _times(plan)]
    width = max((len(title) for title, _ in rows), default=0)
    return "".join(f"{title:<{width}}  {words}\n" for title, words in rows)


def arrangement_data(plan: Plan) -> list[dict[str, object]]:
    """Return the same as data: one object for every time that a section is played."""
    return [_time_data(bars) for bars in _times(plan)]


def _times(plan: Plan) -> Iterator[list[BarPlan]]:
    """Yield the bars of each time that a section is played; a pickup only leads in."""
    bars = (bar for bar in plan.bars if not bar.bar.is_pickup)
    for _, group in groupby(bars, lambda bar: (bar.bar.ref.section, bar.bar.ref.occurrence)):
        yield list(group)


def _title(bars: Sequence[BarPlan]) -> str:
    """Return a section and which time it is: ``verse 2:``, ``bridge:`` where it comes once."""
    place = bars[0].bar.place
    return bars[0].bar.ref.section + (f" {place.time}:" if place.times > 1 else ":")


def _words(bars: Sequence[BarPlan], tuning: Tuning) -> Iterator[str]:
    """Yield what is told of one time of a section: bass, drums, keys, what leads on."""
    first = bars[0]
    own = first.arrangement
    if first.bass:
        yield from _bass_words(bars, tuning)
    # A drummer whose time is on no hat keeps to his own cymbal: he does not change it.
    if first.drums and any(stroke.key == "hat" for bar in first.drums.bars for stroke in bar):
        yield str(own.cymbal)
    if first.keys:
        yield f"{own.comping} keys"
    last = bars[-1]
    if last.arrangement.fill and not last.is_last:
        yield f"a fill of {last.arrangement.fill}"


def _bass_words(bars: Sequence[BarPlan], tuning: Tuning) -> Iterator[str]:
    """Yield what is told of the bass: its register, its bars, where it is touched."""
    own = bars[0].arrangement
    if bars[0].feel.line is LineKind.NEW and bars[0].bass and bars[0].bass.generator:
        yield "in two" if own.is_in_two else "in four"
    if bars[0].lift:
        yield f"up the neck, roots from {pitch_name(tuning.lowest_pitch + bars[0].lift)}"
    stopped = [bar for bar in bars if bar.arrangement.has_stop_time and bar.word]
    if stopped:
        yield f"stop-time in {_bars_words(stopped)}"
    found = _by_condition(bars)
    yield from (OF_SECTIONS[name] for name in found if name in OF_SECTIONS)
    for name, words in OF_BARS.items():
        if name in found:
            yield f"{words} in {_bars_words(found[name])}"


def _by_condition(bars: Iterable[BarPlan]) -> dict[str, list[BarPlan]]:
    """Return the bars in which the bass plays a bar of a condition, by its name."""
    found: dict[str, list[BarPlan]] = {}
    for bar in bars:
        name = _condition(bar)
        if name:
            found.setdefault(name, []).append(bar)
    return found


def _condition(bar: BarPlan) -> str | None:
    """Return the condition by which a bar of the bass is chosen; a touch of any cell is one."""
    if bar.bass is None or bar.word or bar.is_written or bar.has_hits:
        return None
    facts = bar.facts_for(bar.bass)
    name = condition_of(bar.bass.when, facts)
    if bar.arrangement.is_touched and not bar.has_own_line and takes_touch(name):
        return "touch"
    if name is None and bar.feel.line is LineKind.HOOK and _answers(bar.bass, facts):
        return "answer"
    return name


def _answers(cell: BassCell, facts: BarFacts) -> bool:
    """Return whether a bar has the second of a shipped cell's two bars, which answers the first."""
    return len(cell.bars) == 2 and facts.turn % 2 == 0 and not cell.as_written


def _bars_words(bars: Sequence[BarPlan]) -> str:
    """Return the chart's numbers of some bars: ``bar 4``, ``bars 2, 4 and 6``."""
    numbers = [str(number) for number in dict.fromkeys(bar.bar.ref.written_bar for bar in bars)]
    if len(numbers) == 1:
        return f"bar {numbers[0]}"
    return f"bars {', '.join(numbers[:-1])} and {numbers[-1]}"


def _time_data(bars: Sequence[BarPlan]) -> dict[str, object]:
    first, last = bars[0], bars[-1]
    own: Arrangement = first.arrangement
    return {
        "section": first.bar.ref.section,
        "time": first.bar.place.time,
        "times": first.bar.place.times,
        "first_played_bar": first.bar.ref.played_bar,
        "feel": first.feel.name,
        "line": str(first.feel.line),
        "vary": str(own.vary),
        "chorus": own.chorus,
        "thickness": own.thickness,
        "lift_semitones": first.lift,
        "figure": own.figure,
        "in_two": own.is_in_two,
        "cymbal": str(own.cymbal),
        "keys": str(own.comping),
        "fill": str(last.arrangement.fill) if last.arrangement.fill and not last.is_last else None,
        "bass_bars": [
            {"bar": bar.bar.ref.written_bar, "played_bar": bar.bar.ref.played_bar, "plays": name}
            for bar in bars
            if (name := _condition(bar))
        ],
        "stop_time_bars": [
            bar.bar.ref.written_bar for bar in bars if bar.arrangement.has_stop_time and bar.word
        ],
    }
