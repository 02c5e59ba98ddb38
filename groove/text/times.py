"""Which time through its bars a bar is played, in words."""

from collections.abc import Sequence

from groove.bar_place import BarRef

ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
)  # fmt: skip
_ENDINGS = {1: "st", 2: "nd", 3: "rd"}


def time_words(ref: BarRef) -> str:
    """Return which time through its bars a bar is played: ``verse, second time, third pass``.

    A time is counted through the form, a pass through a repeat.
    """
    return ", ".join((ref.section, *_counted_times(ref)))


def which_time(ref: BarRef) -> str:
    """Return which time it was, seen from a later one: ``the second time, third pass``."""
    return "the " + ", ".join(_counted_times(ref) or ["first time"])


def _counted_times(ref: BarRef) -> list[str]:
    counts = ((ref.occurrence, "time"), (ref.pass_number, "pass"))
    return [f"{ordinal(count)} {word}" for count, word in counts if count > 1]


def ordinal(number: int) -> str:
    """Return a small number as a player says it, ``second``; a larger one in digits, ``12th``."""
    if number <= len(ORDINALS):
        return ORDINALS[number - 1]
    ending = "th" if number % 100 in (11, 12, 13) else _ENDINGS.get(number % 10, "th")
    return f"{number}{ending}"


def but_for(others: Sequence[BarRef]) -> str:
    """Return which bars are not as they were: ``, but for bars 4 and 8``."""
    numbers = [str(ref.written_bar) for ref in others]
    if not numbers:
        return ""
    *most, last = numbers
    return f", but for bars {', '.join(most)} and {last}" if most else f", but for bar {last}"
