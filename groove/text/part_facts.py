"""What a card says of the bass part: where it starts, its feel, its hook in two bars of tab."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from groove.bar_place import BarRef
from groove.events import Bar, Maker, Part, Performance
from groove.neck.instrument import STANDARD, Tuning
from groove.text.moves import pretty
from groove.text.tab import bars_tab

_HOOK_BARS = 2
CARD_TAB_COLUMNS = 72


@dataclass(frozen=True, slots=True)
class PartFacts:
    """The string (1 the highest) and fret of the first note, the feel, and the hook with its name.

    Each is empty where there is no part.
    """

    start: tuple[int, int] | None = None
    feel: str = ""
    hook_name: str = ""
    hook: tuple[str, ...] = ()


NO_PART = PartFacts()


def part_facts(performance: Performance, tuning: Tuning = STANDARD) -> PartFacts:
    """Return the facts of a performance whose bass has its places."""
    notes = performance.part_notes(Part.BASS)
    feel = feel_words((bar.ref, bar.feel) for bar in performance.bars)
    if not notes or not notes[0].place:
        return PartFacts(feel=feel)
    bars, is_own = _hook_bars(performance)
    ref = bars[0].ref
    last = f"–{bars[-1].ref.bar_in_section}" if len(bars) > 1 else ""
    where = f"{ref.section} bar{'s' if last else ''} {ref.bar_in_section}{last}"
    rows = bars_tab(performance, bars, tuning=tuning, width=CARD_TAB_COLUMNS)
    return PartFacts(
        start=(notes[0].place.string, notes[0].place.fret),
        feel=feel,
        hook_name=f"{'Hook' if is_own else 'Line'}: {where}",
        # Chords stand in a row without strings, with musical signs as on the rest of the card.
        hook=tuple(row if "|" in row else pretty(row) for row in rows),
    )


def feel_words(bars: Iterable[tuple[BarRef, str]]) -> str:
    """Return the first feel, and in brackets where others are played: ``soul (bridge waltz)``.

    ``bars`` are played bars and the names of their feels.
    """
    played = [(ref, feel) for ref, feel in bars if ref.is_written and feel]
    if not played:
        return ""
    _, first = played[0]
    others = dict.fromkeys(f"{ref.section} {feel}" for ref, feel in played if feel != first)
    return first + (f" ({', '.join(others)})" if others else "")


def _hook_bars(performance: Performance) -> tuple[list[Bar], bool]:
    """Return the two bars to know the line by, and whether they are the player's own.

    The first that the chart writes out, in a riff or under its bars; else the first two of the
    section that is played for most bars.
    """
    own = {
        note.origin.bar.played_bar
        for note in performance.part_notes(Part.BASS)
        if note.origin.maker is not Maker.CELL
    }
    bars = [bar for bar in performance.bars if bar.ref.is_written]
    lengths = Counter(bar.ref.section for bar in bars)
    most = max(lengths, key=lengths.__getitem__)
    first = next(
        (n for n, bar in enumerate(bars) if bar.ref.played_bar in own),
        next(n for n, bar in enumerate(bars) if bar.ref.section == most),
    )
    same = [bar for bar in bars[first : first + _HOOK_BARS] if _is_with(bar, bars[first])]
    return same, bool(own)


def _is_with(bar: Bar, first: Bar) -> bool:
    """Return whether a bar stands in the same time through a section as another."""
    return (bar.ref.section, bar.ref.occurrence) == (first.ref.section, first.ref.occurrence)
