"""One note of the bass line while it is being made, and what plain strokes aim at."""

from msgspec import Struct

from groove.arrange.spans import Span
from groove.cells.model import Aim, AimKind
from groove.chart.model import WrittenNote
from groove.errors import SourcePlace
from groove.events import FretPlace, Maker, Reason, Role, Touch
from groove.theory.chords import Chord

ROOT_AIM = Aim(kind=AimKind.DEGREE, number=1)
WALK_AIM = Aim(kind=AimKind.WALK)
GHOST_AIM = Aim(kind=AimKind.GHOST)
STEP_AIM = Aim(kind=AimKind.NEXT, offset=None)
"""A step into the next root, from the side and by the size that lead best."""
CHANGE_LEVEL = 8
"""How loud a chord's own stroke is where no cell says it."""
TIE_LEVEL = 7


class Draft(Struct, kw_only=True, gc=False):
    """One note of the line while it is being made; private to the arranger.

    ``aim`` is None for a tie from the bar before and for notes whose pitch is given.  ``span`` is
    the chord that it is made for, ``as_written`` whether its degree stays where its cell has it.
    ``written`` is the note of tab that it is, ``place`` where that lies.  ``is_head`` is whether it
    stands at a chord's head with another degree than the root, given before the search.
    """

    start: int
    end: int
    bar: int
    cell: str
    level: int
    aim: Aim | None
    step: int | None = None
    pitch: int | None = None
    role: Role = Role.ROOT
    pushed_ticks: int = 0
    reason: Reason | None = None
    target_pitch: int | None = None
    time_keeping: bool = True
    as_written: bool = False
    span: Span | None = None
    touch: Touch = Touch.PLAIN
    maker: Maker = Maker.CELL
    written: WrittenNote | None = None
    written_at: SourcePlace | None = None
    place: FretPlace | None = None
    is_head: bool = False

    @property
    def is_written(self) -> bool:
        """Whether the player wrote it under its bar: nothing moves it."""
        return self.maker is Maker.WRITTEN

    @property
    def is_tie(self) -> bool:
        """Whether it holds the note of the bar before."""
        return self.aim is None and self.pitch is None

    @property
    def chord(self) -> Chord | None:
        """The chord that it is made for."""
        return self.span.chord if self.span else None

    @property
    def sounds(self) -> bool:
        """Whether it is a note of a chord: no ghost, and no tie that nothing holds."""
        return self.chord is not None and not (self.is_tie or self.is_ghost)

    @property
    def is_ghost(self) -> bool:
        """Whether it is a muted stroke."""
        return self.role is Role.GHOST or (self.aim is not None and self.aim.kind is AimKind.GHOST)

    @property
    def anticipates(self) -> bool:
        """Whether it sounds the next chord's root before its time."""
        return self.aim is not None and self.aim.kind is AimKind.NEXT and self.aim.offset == 0
