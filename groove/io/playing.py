"""The order in which the bars of a foreign score are played: repeats, endings and jumps.

Repeats may nest, as in MusicXML.  After a jump (D.C., D.S.) repeats are not taken again and the
last ending is played, as music21's ``expandRepeats`` and MusicXML 4.0 (``after-jump``) have it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from typing import Protocol

from msgspec import Struct
from msgspec.structs import replace

from groove.chart.form import MOST_PLAYED_BARS


class Until(StrEnum):
    """Where the player stops, or leaves for the coda, after a jump."""

    END = "end"
    FINE = "fine"
    CODA = "coda"


class ScoreJump(Struct, frozen=True):
    """D.C. (``to_segno`` None) or D.S. at a bar's end; an empty name is any sign.

    ``takes_repeats`` is whether repeats are played again after it.
    """

    to_segno: str | None
    until: Until = Until.END
    takes_repeats: bool = False


class Signs(Struct, kw_only=True):
    """Signs of a bar: ``segno`` and ``coda`` at its head, the rest at its end; None for none."""

    segno: str | None = None
    coda: str | None = None
    to_coda: str | None = None
    fine: bool = False
    jump: ScoreJump | None = None


class Grouped(Protocol):
    """What is asked of a bar whose repeats do not nest."""

    @property
    def opens_repeat(self) -> bool: ...  # noqa: D102
    @property
    def closes_repeat(self) -> bool: ...  # noqa: D102
    @property
    def endings(self) -> tuple[int, ...]: ...  # noqa: D102


class Repeated(Protocol):
    """What is asked of a bar."""

    opens_repeat: bool
    closes_repeat: bool
    passes: int
    endings: tuple[int, ...]
    signs: Signs


@dataclass(slots=True)
class _Frame:
    start: int
    pass_number: int = 1


@dataclass(slots=True)
class PlayOrder:
    """The bars as they are played, by their index; what had to be told, with the bar's index."""

    indices: list[int] = field(default_factory=list)
    reported: list[tuple[str, int]] = field(default_factory=list)
    is_cut: bool = False


def score_order(bars: Sequence[Repeated]) -> PlayOrder:
    """Return the order in which bars are played, at most 20,000 of them."""
    return _Player(bars).play()


def repeated_groups(bars: Sequence[Grouped]) -> list[tuple[int, int]]:
    """Return (first, one past last) of every repeat that does not nest, endings included."""
    groups = []
    start = index = 0
    while index < len(bars):
        if bars[index].opens_repeat:
            start = index
        stop = index + 1
        if bars[index].closes_repeat:
            while stop < len(bars) and bars[stop].endings and not bars[stop].opens_repeat:
                stop += 1
            groups.append((start, stop))
            start = stop
        index = stop
    return groups


def close_endings(bars: Sequence[Repeated]) -> None:
    """End the repeat of every ending that another one follows, where the sign was left out."""
    last = _last_endings(bars)
    for index, (bar, following) in enumerate(pairwise(bars)):
        if bar.endings and following.endings and bar.endings != following.endings:
            bar.closes_repeat |= max(bar.endings) < last[index]


class _Player:
    def __init__(self, bars: Sequence[Repeated]) -> None:
        self.bars = bars
        self.order = PlayOrder()
        self.last_endings = _last_endings(bars)
        self.frames: list[_Frame] = []
        self.restart = 0
        self.jump: ScoreJump | None = None
        self.jumped: set[int] = set()
        self.landed_in: tuple[int, ...] = ()
        self.is_aimless = False

    def play(self) -> PlayOrder:
        """Play until the end, or until the limit."""
        index: int | None = 0
        while index is not None and index < len(self.bars):
            if self.bars[index].opens_repeat:
                self.open(index)
            if not self.is_played(index):
                self.pass_by(index)
                index += 1
                continue
            if len(self.order.indices) >= MOST_PLAYED_BARS:
                self.order.is_cut = True
                break
            self.order.indices.append(index)
            self.landed_in = self.landed_in if self.bars[index].endings else ()
            index = self.after(index)
        self.report_unplayed()
        return self.order

    def open(self, index: int) -> None:
        if not any(frame.start == index for frame in self.frames):
            self.frames.append(_Frame(index))

    def is_played(self, index: int) -> bool:
        endings = self.bars[index].endings
        if not endings:
            return True
        if self.skips_repeats:
            return self.last_endings[index] in endings or endings == self.landed_in
        return (self.frames[-1].pass_number if self.frames else 1) in endings

    def pass_by(self, index: int) -> None:
        """Leave a repeat whose last endings are not for this pass."""
        is_over = self.frames and self.frames[-1].pass_number >= self.last_endings[index]
        if is_over and not self.goes_on_in_endings(index):
            self.leave(index)

    @property
    def skips_repeats(self) -> bool:
        return self.jump is not None and not self.jump.takes_repeats

    def after(self, index: int) -> int | None:
        """Return the bar that follows, None at the end."""
        bar = self.bars[index]
        if bar.closes_repeat:
            back = self.repeat(index)
            if back is not None:
                return back
        elif bar.endings and not self.goes_on_in_endings(index):
            self.leave(index)
        return self.follow_signs(index)

    def goes_on_in_endings(self, index: int) -> bool:
        following = index + 1
        return following < len(self.bars) and bool(self.bars[following].endings)

    def repeat(self, index: int) -> int | None:
        """Return where a repeat goes back to, None where it is played out."""
        bar = self.bars[index]
        if not self.frames:
            self.frames.append(_Frame(self.restart))
        frame = self.frames[-1]
        endings_here = index if bar.endings else index + 1
        has_endings = bool(bar.endings) or self.later_endings_follow(index)
        passes = max(bar.passes, self.last_endings[endings_here] if has_endings else 1)
        if not self.skips_repeats and frame.pass_number < passes:
            frame.pass_number += 1
            return frame.start
        if not (has_endings and self.goes_on_in_endings(index)):
            self.leave(index)
        return None

    def later_endings_follow(self, index: int) -> bool:
        """Return whether endings after the first, which has no number, follow a bar."""
        following = index + 1
        if following >= len(self.bars) or self.bars[following].opens_repeat:
            return False
        endings = self.bars[following].endings
        return bool(endings) and 1 not in endings

    def leave(self, index: int) -> None:
        """Leave the innermost repeat."""
        if self.frames:
            self.frames.pop()
        self.restart = index + 1

    def follow_signs(self, index: int) -> int | None:
        """Return where the signs at a bar's end lead, None for the end."""
        signs = self.bars[index].signs
        if self.jump:
            if signs.fine and self.jump.until is not Until.CODA:
                self.is_aimless = False
                return None
            if signs.to_coda is not None and self.jump.until is not Until.FINE:
                coda = self.find_coda(signs.to_coda, index)
                if coda is not None:
                    self.is_aimless = False
                    # What only the coda has is new, and its repeats are played.
                    self.jump = replace(self.jump, takes_repeats=True)
                    return self.land(coda)
        if signs.jump and index not in self.jumped:
            self.jumped.add(index)
            target = self.find_target(signs.jump, index)
            if target is not None:
                self.jump = signs.jump
                self.is_aimless = signs.jump.until is not Until.END
                return self.land(target)
        return index + 1

    def land(self, index: int) -> int:
        self.frames = []
        self.restart = index
        self.landed_in = self.bars[index].endings
        return index

    def find_target(self, jump: ScoreJump, index: int) -> int | None:
        if jump.until is Until.CODA and not any(b.signs.coda is not None for b in self.bars):
            self.report("no coda is there for the jump, which is left out", index)
            return None
        if jump.to_segno is None:
            return 0
        found = [i for i, bar in enumerate(self.bars) if bar.signs.segno is not None]
        named = [i for i in found if self.bars[i].signs.segno == jump.to_segno]
        before = [i for i in (named or found) if i <= index]
        if not before:
            self.report("no segno is there for the jump, which is left out", index)
            return None
        return before[-1]

    def find_coda(self, name: str, index: int) -> int | None:
        """Return the coda after a bar; a named one wherever it stands."""
        found = [i for i, bar in enumerate(self.bars) if bar.signs.coda is not None and i > index]
        named = [i for i in found if self.bars[i].signs.coda == name]
        return next(iter(named or found), None)

    def report_unplayed(self) -> None:
        if self.is_aimless and self.jump:
            name = "Fine" if self.jump.until is Until.FINE else "leap to the coda"
            self.report(f"no {name} is reached after the jump, played to the end", max(self.jumped))
        played = set(self.order.indices)
        if self.order.is_cut:
            return
        for index in range(len(self.bars)):
            if index not in played:
                self.report("never played, as the repeats and jumps stand", index)

    def report(self, message: str, index: int) -> None:
        self.order.reported.append((message, index))


def _last_endings(bars: Sequence[Repeated]) -> list[int]:
    """Return for every bar the highest ending of its group of endings, 0 outside endings."""
    highest = [0] * len(bars)
    start = 0
    while start < len(bars):
        stop = start + 1
        if bars[start].endings:
            while stop < len(bars) and bars[stop].endings and not bars[stop].opens_repeat:
                if min(bars[stop].endings) == 1 and 1 not in bars[stop - 1].endings:
                    break
                stop += 1
            most = max(number for bar in bars[start:stop] for number in bar.endings)
            highest[start:stop] = [most] * (stop - start)
        start = stop
    return highest
