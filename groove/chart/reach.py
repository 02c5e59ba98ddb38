"""Whether an instrument has what a player wrote: refused with its place, and with what would do."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from groove.cells.model import AimKind
from groove.cells.tokens import is_struck, parse_token
from groove.chart.form import PlayedBar
from groove.chart.model import Riff, Slot, TabLine, TokenLine
from groove.chart.written import check_on_neck
from groove.errors import ChartError
from groove.events import Part
from groove.naming import fold_name
from groove.neck.instrument import HIGHEST_FRET, Tuning, tunings_with
from groove.theory.keys import Key
from groove.theory.pitch import pitch_name


def check_written(
    bars: Sequence[PlayedBar],
    keys: Sequence[Key],
    riffs: Mapping[tuple[Part, str], Riff],
    tuning: Tuning,
) -> None:
    """Refuse notes of tab and fixed notes of tokens that lie off the neck.

    ``keys`` are the keys of the bars.  Raises ChartError.
    """
    checked: set[int] = set()
    for bar, key in zip(bars, keys, strict=True):
        named = bar.settings.bass
        riff = riffs.get((Part.BASS, fold_name(named.name))) if named else None
        for written in (bar.line, riff):
            if written is None or id(written) in checked:
                continue
            checked.add(id(written))
            if isinstance(written, TabLine):
                check_on_neck(written.notes, tuning, key)
            else:
                _check_slots(_slots(written), tuning)


def _slots(written: TokenLine | Riff) -> Iterator[Slot]:
    """Yield the slots of tokens under a bar, or of a riff."""
    if isinstance(written, TokenLine):
        yield from written.slots
        return
    for row in written.rows:
        for bar in row.bars:
            yield from bar


def _check_slots(slots: Iterable[Slot], tuning: Tuning) -> None:
    """Refuse a fixed note that the tuning lacks."""
    for slot in slots:
        aim = parse_token(slot.token) if is_struck(slot.token) else None
        fixed = aim is not None and aim.kind is AimKind.FIXED
        if aim and fixed and not tuning.places(aim.pitch, HIGHEST_FRET):
            having = [each.name for each in tunings_with([aim.pitch], HIGHEST_FRET)]
            highest = pitch_name(max(tuning.open_pitches) + HIGHEST_FRET)
            other = f"; or a tuning that has it: {', '.join(having)}" if having else ""
            raise ChartError(
                f"{pitch_name(aim.pitch)} is not on the neck (tuning {tuning.name})",
                place=slot.place,
                hint=f"expected {pitch_name(tuning.lowest_pitch)} to {highest}{other}",
            )
