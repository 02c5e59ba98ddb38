"""What is known of a song's chords in every key once it is known in one: only the names move."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from msgspec.structs import replace

from groove.chart.transpose import transposed_key
from groove.harmony.analysis import Analysis, PlacedChange, Progression
from groove.harmony.changes import Change, Function, lender_name
from groove.harmony.sections import Occurrence, SongForm
from groove.theory.keys import Key
from groove.theory.pitch import OCTAVE


def known_in_every_key(known: Analysis, moved: Analysis, semitones: int) -> dict[str, Any]:
    """Return what ``moved`` need not work out anew, by the names of an analysis' properties.

    How sections are alike, how sure the key is, how long the song lasts, what a chord is in its
    key and how a progression moves are the same in every key.
    """
    bars = {bar.ref.played_bar: bar for bar in moved.bars}
    occurrences = tuple(
        replace(each, bars=tuple(bars[bar.ref.played_bar] for bar in each.bars))
        for each in known.form.occurrences
    )
    form = SongForm(occurrences, known.form.firsts)
    keys = [transposed_key(key, semitones) or key for key in known.section_keys]
    changes = tuple(_moved_changes(known.changes, occurrences, keys))
    key = transposed_key(known.reading.key, semitones) or known.reading.key
    return {
        "form": form,
        "reading": replace(known.reading, key=key),
        "starts_sec": known.starts_sec,
        "changes": changes,
        "progressions": tuple(_moved_progressions(known.progressions, form, changes, semitones)),
    }


def _moved_changes(
    changes: Iterable[PlacedChange], occurrences: Iterable[Occurrence], keys: Iterable[Key]
) -> Iterator[PlacedChange]:
    """Yield every chord of a form as it is in other keys, where it is the same of its key."""
    spans = (
        (bar, span, key)
        for occurrence, key in zip(occurrences, keys, strict=True)
        for bar in occurrence.bars
        for span in bar.chords
    )
    for placed, (bar, span, key) in zip(changes, spans, strict=True):
        yield PlacedChange(bar, placed.beat, span, key, _moved_change(placed.change, key))


def _moved_change(change: Change, key: Key) -> Change:
    """Return what a chord is in its key moved: the same, but for the name of a lending key."""
    return replace(change, of=lender_name(key)) if change.function is Function.BORROWED else change


def _moved_progressions(
    known: Iterable[Progression],
    form: SongForm,
    changes: Sequence[PlacedChange],
    semitones: int,
) -> Iterator[Progression]:
    """Yield the progressions of a form that was moved."""
    by_bar: dict[int, list[PlacedChange]] = {}
    for placed in changes:
        by_bar.setdefault(placed.bar.ref.played_bar, []).append(placed)
    for each in known:
        first = form.occurrences[form.firsts[each.number]]
        moves = each.description
        yield replace(
            each,
            first=first,
            occurrences=tuple(o for o in form.occurrences if o.progression == each.number),
            changes=tuple(tuple(by_bar[bar.ref.played_bar]) for bar in first.bars),
            description=moves and replace(moves, first=(moves.first + semitones) % OCTAVE),
        )
