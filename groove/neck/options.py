"""What a player may choose, what each awkwardness costs, and how fast a hand moves.

All three tables are common practice without a published source; the kinds of cost follow
S. Sayegh, Computer Music Journal 13(3), 1989 (cheapest path), H. Heijink and R. Meulenbroek,
Journal of Motor Behavior 34(4), 2002 (hand travel and finger spread) and D. Radicioni and
V. Lombardo, ICMC 2005 (moves along and across the neck counted apart).
"""

from bisect import bisect_right
from math import inf
from operator import attrgetter
from typing import Literal, NamedTuple

from msgspec import Struct

from groove.errors import OptionError
from groove.neck.instrument import FRET_COUNTS, LONG_SCALE_MM

OpenStrings = Literal["yes", "no", "free"]
HandSpan = Literal[3, 4]

HAND_SPAN_MM = 135.0
"""The farthest that first and little finger stand apart: one finger a fret at the nut."""
ONE_FINGER_A_FRET_FROM = 5
TWELFTH_FRET = 12
HIGH_POSITION = 7
LOW_ROOT = 6
"""Up to this fret every root lies on one of the two lowest strings, Bb and Eb on both."""
NEAR_NUT = 4
"""The highest fret under a hand that plays the open strings."""


class NeckOptions(Struct, frozen=True, kw_only=True, repr_omit_defaults=True):
    """A player's choices.

    ``open_strings``: ``yes`` wanted, ``no`` only where no fretted place exists, ``free`` as it
    comes.  ``start_fret`` puts the first root there, and the hand stays there where it can;
    ``position_fret`` has the first finger at that fret, whatever the first note is.
    ``max_fret`` is the highest fret used (None: the last).  ``span`` is the hand: 4 one finger a
    fret, 3 fingers 1-2-4 over three frets, None 1-2-4 below the fifth fret and one finger a fret
    from there.  ``thumb`` plucks all with it.

    Raises OptionError for a choice outside its range.
    """

    open_strings: OpenStrings = "free"
    start_fret: int | None = None
    position_fret: int | None = None
    max_fret: int | None = None
    span: HandSpan | None = None
    fret_count: int = 24
    scale_length_mm: float = LONG_SCALE_MM
    thumb: bool = False

    def __post_init__(self) -> None:
        """Refuse what no instrument has."""
        _expect(self.fret_count in FRET_COUNTS, "frets", self.fret_count, "20 to 24")
        _expect(
            self.open_strings in ("yes", "no", "free"), "open", self.open_strings, "yes no free"
        )
        _expect(self.span in (None, 3, 4), "span", self.span, "4 or 3")
        limits = f"1 to {self.fret_count}"
        _expect(
            self.max_fret is None or 1 <= self.max_fret <= self.fret_count,
            "max fret",
            self.max_fret,
            limits,
        )
        _expect(
            self.start_fret is None or 0 <= self.start_fret <= self.last_fret,
            "start fret",
            self.start_fret,
            f"0 to {self.last_fret}",
        )
        _expect(
            self.position_fret is None or 0 <= self.position_fret <= self.last_fret,
            "position",
            self.position_fret,
            f"0 to {self.last_fret}",
        )

    @property
    def last_fret(self) -> int:
        """The highest fret that may be used."""
        return self.fret_count if self.max_fret is None else self.max_fret

    def span_at(self, position: int) -> HandSpan:
        """Return how many frets the hand covers in a position."""
        by_place: HandSpan = 4 if position >= ONE_FINGER_A_FRET_FROM else 3
        return self.span or by_place


def _expect(holds: bool, name: str, found: object, expected: str) -> None:
    if not holds:
        raise OptionError(f"{name}: {found} is out of range", hint=f"expected {expected}")


class Haste(NamedTuple):
    """How a hand moves along the neck when it has at least ``window_ms`` for it.

    ``factor`` multiplies the cost of a millimetre; farther than ``reach_mm`` no hand gets.
    """

    window_ms: float
    factor: float
    reach_mm: float


HASTE = (
    Haste(0, 6.0, 60),
    Haste(60, 4.0, 120),
    Haste(90, 2.8, 180),
    Haste(130, 2.0, 260),
    Haste(180, 1.4, 360),
    Haste(260, 1.0, 520),
    Haste(400, 0.7, inf),
    Haste(700, 0.45, inf),
    Haste(1200, 0.3, inf),
)
"""The less time, the dearer the way: a rest, a long note or an open string buys time."""


def haste_index(window_ms: float) -> int:
    """Return the row of ``HASTE`` for a time in ms."""
    return max(0, bisect_right(HASTE, window_ms, key=attrgetter("window_ms")) - 1)


class HandWeights(Struct, frozen=True, kw_only=True):
    """What each awkwardness costs; 1 is a plain finger-to-finger effort.

    One table for the fretting hand; the plucking hand's is in ``plucking``.
    """

    travel_per_mm: float = 0.02
    """Hand travel, per mm between two positions, times the haste."""
    shift: float = 1.0
    """Any shift, however short, per shift."""
    stretch_per_mm: float = 0.02
    """Little finger beyond the frame, per mm."""
    squeeze: float = 0.25
    """Little finger a fret inside its place, per note, where the shape does not want it."""
    opened: float = 0.35
    """Third finger put where the little finger would stand below the fifth fret."""
    cross: float = 0.08
    """Going to another string, per string."""
    skip: float = 0.6
    """Each string left out between two notes."""
    leap: float = 1.5
    """Each string beyond two crossed at speed."""
    approach_across: float = 8.0
    """An approach on another string than the note to which it leads, which lies beside it."""
    half_step_across: float = 3.5
    """Any other half step that goes to another string."""
    restrike: float = 3.0
    """The same pitch again at another place."""
    weak_root: float = 0.2
    """A cell's root under the little finger, or the third below the fifth fret, per note: what is
    pumped lies under a strong finger."""
    pump: float = 0.4
    """The little finger on the place that it has just struck, per note: it tires first."""
    roll: float = 0.3
    """One finger rolled or barred over to another string at the same fret, per string."""
    lift: float = 1.6
    """One finger lifted to another fret of its string while the hand stands still."""
    hop: float = 0.8
    """One finger lifted to another fret of another string, times the haste; per string while the
    hand stands still."""
    refinger: float = 1.2
    """Another finger on the place just played, or at its fret of another string, but for two side
    by side of which the lower has the lower string."""
    open_string: float = 0.2
    """An open string rings on, per note (``free`` and ``no``), but where it is struck again: there
    is nothing to mute between."""
    open_muted: float = 0.8
    """The same in a cell that the fretting hand mutes (see ``Shape``), besides."""
    open_under_octave: float = 0.5
    """The same under its octave alone, which it would go on sounding under, besides."""
    open_ghost: float = 2.0
    """A ghost on an open string, besides."""
    far_from_nut: float = 0.25
    """Between an open string and a note from the fifth fret up, per fret, per move: a hand that
    plays open strings is near the nut."""
    open_missed: float = 2.0
    """A fretted note where an open string has it, per note (``yes``)."""
    ghost_moves: float = 8.0
    """A ghost that is not at the place under the hand."""
    twelfth_fret: float = 1.5
    """Time-keeping at the twelfth fret and above, per fret from the eleventh, per note."""
    high_position: float = 0.3
    """Fretted above the seventh fret, per fret, per note."""
    high_root: float = 0.5
    """A cell's root above the sixth fret, per fret, per note: B is the A string's second fret."""
    shape_break: float = 12.0
    """A cell's note on another string than its shape has it, seen from the note before."""
    off_home: float = 3.0
    """A cell's note played out of the hand position that holds the whole shape, or where there is
    none since the shape runs off the neck, per note."""
    elsewhere: float = 2.5
    """A note not where its bar had it the first time, or had the same note, per note."""
    other_finger: float = 0.3
    """A note held at that place by another finger, per note."""
    out_of_position: float = 3.0
    """A note out of the position that the player began with, though it lies there, per note."""
    slide_across: float = 40.0
    """A slide that changes the string."""
    slide_finger: float = 10.0
    """A slide that changes the finger, or has an open string at one end."""


HAND_WEIGHTS = HandWeights()
