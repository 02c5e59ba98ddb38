"""Cells and feels as values.

A cell is a rhythm of one or more bars.  Its positions are fractions of its beat (the pulse of
``groove.cells.fit``), so that one cell serves every tempo and every meter of its family.  Levels
run from 1 (barely there) to 9 (the loudest stroke of a bar).
"""

from collections.abc import Mapping
from enum import StrEnum
from fractions import Fraction

from msgspec import Struct, field

from groove.cells.conditions import When
from groove.timing import Meter, Swing

FORMAT = 1
"""Number of the TOML format that this version reads."""


class AimKind(StrEnum):
    """What a bass stroke aims at."""

    DEGREE = "degree"
    NEXT = "next"
    GHOST = "ghost"
    WALK = "walk"
    FIXED = "fixed"


class Aim(Struct, frozen=True, kw_only=True):
    """The note that a bass stroke asks for, before a chord is known.

    For DEGREE, ``number`` is the chord degree (1 to 11, 13), ``alter`` forced half steps and
    ``octaves`` whole octaves down (negative).  For NEXT, ``offset`` is in semitones from the next
    chord's root, None where the side and the size are chosen by the line.  For FIXED, ``pitch`` is
    a MIDI number that no chord moves.
    """

    kind: AimKind
    number: int = 1
    alter: int = 0
    is_altered: bool = False
    octaves: int = 0
    offset: int | None = 0
    pitch: int = 0
    slide: bool = False


class BassStroke(Struct, frozen=True, kw_only=True):
    """One stroke of a bass cell; positions and lengths in beats from the bar line."""

    step: int
    start_beats: Fraction
    length_beats: Fraction
    level: int
    aim: Aim


class BassBar(Struct, frozen=True, kw_only=True):
    """One bar of a bass cell.

    ``head_hold_beats`` is how long the note of the bar before is tied over the bar line (0: not).
    """

    strokes: tuple[BassStroke, ...]
    head_hold_beats: Fraction = Fraction(0)


class BassCell(Struct, frozen=True, kw_only=True):
    """A bass player's rhythm.

    ``meter`` is None where a cell serves any meter; ``slots_per_beat`` is its grid.  ``generator``
    names the code that makes the line where it is no row of steps (``walking``, ``long``).
    ``when`` are bars that take the place of ``bars`` under a condition.  ``as_written`` is whether
    its degrees are played where it has them, whatever they lead to: a player's own line is not
    mended.
    """

    name: str
    summary: str
    source: str
    meter: Meter | None
    slots_per_beat: int
    bars: tuple[BassBar, ...]
    when: When[BassBar] = ()
    generator: str | None = None
    as_written: bool = False


class DrumStroke(Struct, frozen=True, kw_only=True):
    """One stroke: ``key`` is the stroke's name in the General MIDI key table of groove."""

    step: int
    start_beats: Fraction
    key: str
    level: int


class DrumFill(Struct, frozen=True, kw_only=True):
    """What a drummer plays over the last ``beats`` of a bar; positions count from its own start."""

    beats: Fraction
    slots_per_beat: int
    strokes: tuple[DrumStroke, ...]


class DrumEnding(StrEnum):
    """How a drummer ends a song under the last chord."""

    HIT = "hit"
    ROLL = "roll"


class DrumCell(Struct, frozen=True, kw_only=True):
    """A drummer's rhythm: bars, what takes their place under a condition, and fills.

    ``comments`` are bars that are laid over the cell's own now and then.  ``as_written`` is whether
    a player wrote it in the chart.
    """

    name: str
    summary: str
    source: str
    meter: Meter | None
    slots_per_beat: int
    bars: tuple[tuple[DrumStroke, ...], ...]
    when: When[tuple[DrumStroke, ...]] = ()
    fills: tuple[DrumFill, ...] = ()
    comments: tuple[tuple[DrumStroke, ...], ...] = ()
    ending: DrumEnding = DrumEnding.HIT
    as_written: bool = False


class KeysStroke(Struct, frozen=True, kw_only=True):
    """One stroke of a keys cell.

    ``voices`` are numbers from the lowest voice (1) up, empty for the whole voicing; ``octaves``
    doubles them an octave apart.
    """

    step: int
    start_beats: Fraction
    length_beats: Fraction
    level: int
    voices: tuple[int, ...] = ()
    octaves: bool = False


class KeysCell(Struct, frozen=True, kw_only=True):
    """A keys player's rhythm and density: ``voice_count`` notes a voicing (3 or 4).

    ``is_high`` is whether its voicings lie in the upper half of the range, ``is_drawn`` whether its
    bars come in an order that is drawn for every phrase.  ``as_written`` is whether a player wrote
    it in the chart.
    """

    name: str
    summary: str
    source: str
    meter: Meter | None
    slots_per_beat: int
    bars: tuple[tuple[KeysStroke, ...], ...]
    when: When[tuple[KeysStroke, ...]] = ()
    voice_count: int = 4
    is_high: bool = False
    is_drawn: bool = False
    generator: str | None = None
    as_written: bool = False


Cell = BassCell | DrumCell | KeysCell


class LineKind(StrEnum):
    """What becomes of a feel's bass line over a song.

    A hook stays, and is touched a little from its second time on; a new line is another one each
    chorus; a blues has one figure a chorus and another for the next; an exempt one stays.
    """

    HOOK = "hook"
    NEW = "new"
    BLUES = "blues"
    EXEMPT = "exempt"


class Style(StrEnum):
    """Styles as far as the notes that a player reaches for are concerned."""

    BLUES = "blues"
    ROCK = "rock"
    POP = "pop"
    JAZZ = "jazz"


class Feel(Struct, frozen=True, kw_only=True):
    """A named set of cells and how they are played.

    ``tempo_beats`` is the range (slowest, fastest) in beats per minute that the feel is made for;
    ``length_percent`` the share of a stroke's stated length that sounds; ``softer_by`` the
    velocity that a soft feel takes away; ``crash`` whether a section begins with a crash;
    ``phrase_bars`` how many bars a phrase has; ``default_for`` the meters that take this feel when
    a chart names none; ``fast`` a tempo and the drum cell that takes over above it; ``also`` the
    styles that players call it by, the most usual first, and ``style`` the one whose notes it takes
    (None: as its chords are); ``line`` is what becomes of the bass line
    over a song, and ``climbs`` how many semitones its lowest root rises where it goes up the neck.
    """

    name: str
    summary: str
    source: str
    meter: Meter | None
    tempo_beats: tuple[int, int]
    bass: str
    drums: str
    keys: str
    length_percent: int
    swing: Swing | None = None
    softer_by: int = 0
    crash: bool = True
    phrase_bars: int = 4
    default_for: tuple[Meter, ...] = ()
    fast: tuple[int, str] | None = None
    line: LineKind = LineKind.HOOK
    climbs: int = 0
    bass_program: int = 33
    drum_kit: int = 0
    keys_program: int = 4
    also: tuple[str, ...] = ()
    style: Style | None = None


class Library(Struct, frozen=True, kw_only=True):
    """All cells and feels that can be named, by their folded names."""

    bass: Mapping[str, BassCell] = field(default_factory=dict)
    drums: Mapping[str, DrumCell] = field(default_factory=dict)
    keys: Mapping[str, KeysCell] = field(default_factory=dict)
    feels: Mapping[str, Feel] = field(default_factory=dict)

    def __repr__(self) -> str:
        """Return how much there is, not all of it."""
        counts = f"{len(self.bass)} bass, {len(self.drums)} drums, {len(self.keys)} keys"
        return f"Library({len(self.feels)} feels, {counts})"
