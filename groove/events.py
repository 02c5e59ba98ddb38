"""The one value that every output reads: a performance, made of notes that know why they exist.

``grid_tick`` is where the page has a note, ``onset_tick`` where it sounds.  Tick 0 is the first
played bar, pickup included.  A ghost is stated by its touch, never guessed from its velocity.
"""

from enum import StrEnum
from functools import cached_property
from itertools import pairwise

from msgspec import Struct

from groove.timing import Meter, TempoMap


class Part(StrEnum):
    """Who plays."""

    BASS = "bass"
    DRUMS = "drums"
    KEYS = "keys"
    CLICK = "click"


class Touch(StrEnum):
    """How a note is struck."""

    PLAIN = "plain"
    GHOST = "ghost"
    SLIDE = "slide"


class Role(StrEnum):
    """What a note is there for."""

    ROOT = "root"
    SLASH = "slash note"
    SECOND = "second"
    THIRD = "third"
    FOURTH = "fourth"
    FIFTH = "fifth"
    SIXTH = "sixth"
    SEVENTH = "seventh"
    OCTAVE = "octave"
    NINTH = "ninth"
    TENTH = "tenth"
    ELEVENTH = "eleventh"
    THIRTEENTH = "thirteenth"
    FIXED = "fixed note"
    GHOST = "ghost"
    APPROACH = "approach"
    WALK = "walk"
    FILL = "fill"
    STROKE = "stroke"
    VOICING = "voicing"
    COUNT = "count"


class BarRef(Struct, frozen=True, kw_only=True, gc=False):
    """The name of one played bar.

    ``occurrence`` counts the times the form has come to this section, ``pass_number`` the passes
    through the repeat the bar stands in, ``bar_in_section`` the played bars since the occurrence
    began; ``written_bar`` is the bar's number in the chart as written, ``played_bar`` its number
    in the song as played.  All count from 1; a pickup bar is played bar 0 and written bar 0.
    """

    section: str
    occurrence: int
    pass_number: int
    bar_in_section: int
    written_bar: int
    played_bar: int


class Origin(Struct, frozen=True, kw_only=True, gc=False):
    """Why a note exists.

    ``cell`` and ``step`` name the cell and the step in it (counted from 0) that asked for the
    note; ``detail`` says in words what the role leaves open; ``target_pitch`` is the MIDI pitch
    that an approach or a fill leads to.  ``time_keeping`` is false in fills.
    """

    bar: BarRef
    chord: str
    cell: str
    role: Role
    step: int | None = None
    detail: str = ""
    target_pitch: int | None = None
    time_keeping: bool = True


class Place(Struct, frozen=True, kw_only=True):
    """Where a bass note is played: string 1 is the highest, fret 0 open, finger 0 none."""

    string: int
    fret: int
    finger: int
    pluck: str
    position_fret: int


class Note(Struct, frozen=True, kw_only=True, gc=False):
    """One note of one part.

    ``grid_tick`` (>= 0) is its place on the page, ``shift_ticks`` what swing and humanising add
    (late is positive), ``length_ticks`` (> 0) how long it sounds, ``pitch`` a MIDI number (for
    drums the General MIDI key), ``velocity`` 1-127.  ``stated_ticks`` is how long the page has
    it, None where that is what sounds.
    """

    part: Part
    grid_tick: int
    length_ticks: int
    pitch: int
    velocity: int
    origin: Origin
    touch: Touch = Touch.PLAIN
    shift_ticks: int = 0
    place: Place | None = None
    stated_ticks: int | None = None

    @property
    def written_ticks(self) -> int:
        """How long the note is on the page."""
        return self.stated_ticks or self.length_ticks

    @property
    def onset_tick(self) -> int:
        """Where the note sounds."""
        return self.grid_tick + self.shift_ticks

    @property
    def end_tick(self) -> int:
        """Where the note stops sounding."""
        return self.onset_tick + self.length_ticks

    def played(self, *, shift_ticks: int, length_ticks: int, velocity: int) -> "Note":
        """Return the note as a player plays it; what the page has of it stays.

        Written out, because ``msgspec.structs.replace`` takes three times as long and a song has
        thousands of notes.
        """
        return Note(
            part=self.part,
            grid_tick=self.grid_tick,
            length_ticks=length_ticks,
            pitch=self.pitch,
            velocity=velocity,
            origin=self.origin,
            touch=self.touch,
            shift_ticks=shift_ticks,
            place=self.place,
            stated_ticks=self.written_ticks,
        )


PART_ORDER = {part: index for index, part in enumerate(Part)}


def note_order(note: Note) -> tuple[int, int, int]:
    """Return the key by which notes of a performance are sorted: onset, part, pitch."""
    return (note.onset_tick, PART_ORDER[note.part], note.pitch)


class Bar(Struct, frozen=True, kw_only=True):
    """One played bar on the tick axis, with what the band is told there."""

    ref: BarRef
    start_tick: int
    length_ticks: int
    meter: Meter
    chords: tuple[tuple[int, str], ...] = ()
    """Start of each chord in ticks from the bar line, and its symbol."""

    @property
    def end_tick(self) -> int:
        """Where the next bar starts."""
        return self.start_tick + self.length_ticks


class KeySignature(Struct, frozen=True):
    """From ``tick`` on: sharps (positive) or flats (negative), -7 to 7, and the mode."""

    tick: int
    fifths: int
    is_minor: bool


class Marker(Struct, frozen=True):
    """A section begins at ``tick``."""

    tick: int
    text: str


class Performance(Struct, frozen=True, kw_only=True, dict=True):
    """A whole song as played: notes sorted by ``note_order``, and the map they stand on.

    ``programs`` gives each part's General MIDI program (0-127; for drums the kit on bank 128).
    """

    title: str
    notes: tuple[Note, ...]
    bars: tuple[Bar, ...]
    tempo_map: TempoMap
    key_signatures: tuple[KeySignature, ...]
    markers: tuple[Marker, ...]
    programs: tuple[tuple[Part, int], ...]
    notices: tuple[str, ...] = ()
    end_tick: int

    def __post_init__(self) -> None:
        """Refuse what no writer could write: a negative onset, no length, velocity 0."""
        for note in self.notes:
            length = min(note.length_ticks, note.written_ticks)
            if note.onset_tick < 0 or length < 1 or not 1 <= note.velocity <= 127:
                raise ValueError(f"not a playable note: {note}")
        if any(a > b for a, b in pairwise(map(note_order, self.notes))):
            raise ValueError("notes are not sorted")

    @cached_property
    def note_ids(self) -> tuple[str, ...]:
        """Return one id a note: part, played bar and its number there, as ``bass-12-3``."""
        counts: dict[tuple[Part, int], int] = {}
        ids = []
        for note in self.notes:
            key = (note.part, note.origin.bar.played_bar)
            counts[key] = counts.get(key, 0) + 1
            ids.append(f"{note.part}-{key[1]}-{counts[key]}")
        return tuple(ids)

    def part_notes(self, part: Part) -> tuple[Note, ...]:
        """Return the notes of one part, in order."""
        return tuple(note for note in self.notes if note.part == part)

    @property
    def parts(self) -> tuple[Part, ...]:
        """The parts that have notes, in score order."""
        present = {note.part for note in self.notes}
        return tuple(part for part in Part if part in present)

    @property
    def length_sec(self) -> float:
        """Length in seconds, from tick 0 to the end of the last bar."""
        return self.tempo_map.tick_to_sec(self.end_tick)
