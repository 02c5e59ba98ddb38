"""The one value that every output reads: a performance, made of notes that know why they exist.

``grid_tick`` is where the page has a note, ``onset_tick`` where it sounds.  Tick 0 is the first
played bar, pickup included.  A ghost is stated by its touch, never guessed from its velocity.
"""

from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from msgspec import Struct

from groove.bar_place import BandWord, BarRef, FormPlace
from groove.errors import SourcePlace
from groove.notices import Notice
from groove.theory.chords import Chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch
from groove.timing import Meter, Swing, TempoMap

NO_CHORD = "N.C."
C_MAJOR = Key(SpelledPitch(0), Mode.MAJOR)


class Part(StrEnum):
    """Who plays."""

    BASS = "bass"
    DRUMS = "drums"
    KEYS = "keys"
    CLICK = "click"


KIT_PARTS = (Part.DRUMS, Part.CLICK)
"""The parts that strike keys of a drum kit, where a key is a sound and no pitch."""


class CountGiver(StrEnum):
    """Who counts a song in."""

    STICKS = "sticks"
    HAT = "hat"
    BASS = "bass"
    NOBODY = "nobody"


class CountIn(Struct, frozen=True):
    """How a song is counted in: ``bars`` bars of beats, none where nobody gives it."""

    bars: int = 1
    giver: CountGiver = CountGiver.STICKS

    def __str__(self) -> str:
        """Return it as a chart has it: ``2 hat``, ``nobody``."""
        return f"{self.bars} {self.giver}" if self.bars else str(self.giver)


ONE_BAR_OF_STICKS = CountIn()
"""How a song is counted in whose chart says nothing (common practice, no source)."""
NO_COUNT_IN = CountIn(0, CountGiver.NOBODY)


class Touch(StrEnum):
    """How a note is struck, or reached from the note before it without a stroke of its own."""

    PLAIN = "plain"
    GHOST = "ghost"
    SLIDE = "slide"
    HAMMER_ON = "hammer-on"
    PULL_OFF = "pull-off"
    HARMONIC = "harmonic"

    @property
    def is_slurred(self) -> bool:
        """Whether the stroke of the note before it still sounds: nothing is plucked."""
        return self in (Touch.SLIDE, Touch.HAMMER_ON, Touch.PULL_OFF)


class Maker(StrEnum):
    """Whose note it is: a shipped cell's, a riff's of the chart, or written under its bar."""

    CELL = "cell"
    RIFF = "riff"
    WRITTEN = "written"


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


ROOTS = (Role.ROOT, Role.SLASH)
"""What stands at the foot of a chord."""


class PitchRule(StrEnum):
    """By which rule a note has its pitch, where its role leaves that open."""

    EARLY = "early"
    APPROACH = "approach"
    WALKED_INTO = "walked into"
    OCTAVE_LOWER = "octave lower"
    BACK_IN_CHORD = "back in the chord"
    SCALE_RUN = "scale run"
    TONE_AND_STEP = "chord tone and step"
    CHORD_FIGURE = "figure of the chord"
    TURNAROUND = "turnaround"


class ChordOnset(Struct, frozen=True, kw_only=True, gc=False):
    """A chord where it comes in: on the page, and in the ear.

    ``chord`` is None for no chord; ``written`` is the symbol as the chart writes it (a number in
    a chart of numbers); ``tick`` counts from its bar's line, where the page has it;
    ``pushed_ticks`` (>= 0) is how much earlier it sounds.
    """

    chord: Chord | None
    written: str
    tick: int
    pushed_ticks: int = 0

    @property
    def symbol(self) -> str:
        """The chord's symbol in letters, ``N.C.`` for no chord."""
        return self.chord.symbol if self.chord else NO_CHORD

    @property
    def sounding_tick(self) -> int:
        """Where it sounds, counted from its bar's line: below 0 where it is pushed over it."""
        return self.tick - self.pushed_ticks

    def __repr__(self) -> str:
        """Return the chord and where it comes in on one line."""
        return f"<ChordOnset {self.symbol} at tick {self.tick}>"


class Reason(Struct, frozen=True, gc=False):
    """Why a note has its pitch; its words are made in ``groove.text.reasons``.

    ``interval`` is how many semitones the note, or the last one of its figure, stands from the
    pitch that it leads to as the rule states it (below 0 under it; a note that would fall below the
    lowest string sounds an octave higher), 0 where the rule does not say it.  ``figure`` are the
    roles of a fill's notes in order, but the one that leads on.
    """

    rule: PitchRule
    interval: int = 0
    figure: tuple[Role, ...] = ()


class Origin(Struct, frozen=True, kw_only=True, gc=False):
    """Why a note exists.

    ``onset`` is the chord that it belongs to, None for parts that know no chords; ``cell`` and
    ``step`` name the cell and the step in it (counted from 0) that asked for the note, ``level``
    (1 to 9) how loud the cell or the arrangement states it, None where neither does.
    ``pushed_ticks`` (>= 0) is how early a note strikes a chord that the chart pushes, 0 for every
    note in its place.  ``reason`` is why it has this pitch, None where the role says it all;
    ``target_pitch`` is the MIDI pitch that an approach or a fill leads to.  ``time_keeping`` is
    false in fills.  ``maker`` is whose note it is; ``written_at`` where the chart has it, None for
    what the tool drew.
    """

    bar: BarRef
    cell: str
    role: Role
    onset: ChordOnset | None = None
    level: int | None = None
    step: int | None = None
    pushed_ticks: int = 0
    reason: Reason | None = None
    target_pitch: int | None = None
    time_keeping: bool = True
    maker: Maker = Maker.CELL
    written_at: SourcePlace | None = None

    @property
    def chord(self) -> Chord | None:
        """The chord that the note belongs to, None where there is none."""
        return self.onset.chord if self.onset else None

    @property
    def symbol(self) -> str:
        """The symbol of the note's chord in letters, empty for parts that know no chords."""
        return self.onset.symbol if self.onset else ""

    def __repr__(self) -> str:
        """Return what the note is there for on one line."""
        of = f" of {self.symbol}" if self.symbol else ""
        return f"<Origin {self.role}{of}, bar {self.bar.written_bar}, {self.cell:.30}>"


class FretPlace(NamedTuple):
    """A string (1 the highest) and a fret (0 open; of a harmonic, where it is touched)."""

    string: int
    fret: int


class Place(Struct, frozen=True, kw_only=True):
    """Where a bass note is played: string 1 is the highest, fret 0 open, finger 0 none.

    ``pluck`` is empty for a note that is not plucked (see ``Touch.is_slurred``).
    """

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
    it, None where that is what sounds.  ``stated_place`` is where the player wrote it, which no
    fingering moves, None where the hand is free; notes of one part at one ``grid_tick`` are a
    double stop.  ``bend_semitones`` (>= 0) is how far the note is bent up from ``pitch``,
    ``has_vibrato`` whether it is shaken; of a harmonic ``pitch`` is what sounds.
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
    stated_place: FretPlace | None = None
    bend_semitones: int = 0
    has_vibrato: bool = False

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
            stated_ticks=self.stated_ticks or self.length_ticks,
            stated_place=self.stated_place,
            bend_semitones=self.bend_semitones,
            has_vibrato=self.has_vibrato,
        )

    def __repr__(self) -> str:
        """Return who plays what, when and why on one line."""
        of = f" of {self.origin.symbol}" if self.origin.symbol else ""
        return (
            f"<Note {self.part} {self.pitch} at {self.grid_tick} for {self.written_ticks} ticks, "
            f"bar {self.origin.bar.written_bar}, {self.origin.role}{of}>"
        )


PART_ORDER = {part: index for index, part in enumerate(Part)}


def placed(note: Note) -> Place:
    """Return the place of a note; one without a place is a bug (ValueError)."""
    if note.place is None:
        raise ValueError(f"not placed: {note}")
    return note.place


def note_order(note: Note) -> tuple[int, int, int]:
    """Return the key by which notes of a performance are sorted: onset, part, pitch."""
    return (note.onset_tick, PART_ORDER[note.part], note.pitch)


class Bar(Struct, frozen=True, kw_only=True):
    """One played bar on the tick axis, with all that the band is told there.

    ``key`` is the chart's, or where it states none the one that its chords say; ``swing`` is None
    where nothing is swung, ``in_triplets`` whether the band feels its beat in three, ``feel`` the
    name of the feel that is played, ``word`` what stands in brackets in the chart; ``place`` is
    where in the form the bar stands.
    """

    ref: BarRef
    start_tick: int
    length_ticks: int
    meter: Meter
    key: Key = C_MAJOR
    chords: tuple[ChordOnset, ...] = ()
    swing: Swing | None = None
    in_triplets: bool = False
    feel: str = ""
    word: BandWord | None = None
    place: FormPlace = FormPlace()

    @property
    def end_tick(self) -> int:
        """Where the next bar starts."""
        return self.start_tick + self.length_ticks

    def __repr__(self) -> str:
        """Return the bar's number and what stands in it on one line."""
        chords = " ".join(onset.symbol for onset in self.chords)
        return f"<Bar {self.ref.written_bar} {self.ref.section:.30} {self.meter}: {chords:.40}>"


class Marker(Struct, frozen=True):
    """A section begins at ``tick``."""

    tick: int
    text: str


class Performance(Struct, frozen=True, kw_only=True, dict=True):
    """A whole song as played: notes sorted by ``note_order``, and the map they stand on.

    ``programs`` gives each part's General MIDI program (0-127; for drums the kit on bank 128).
    ``count_in`` is how the song is counted in where it is (see ``with_count_in``).
    """

    title: str
    notes: tuple[Note, ...]
    bars: tuple[Bar, ...]
    tempo_map: TempoMap
    markers: tuple[Marker, ...]
    programs: tuple[tuple[Part, int], ...]
    notices: tuple[Notice, ...] = ()
    count_in: CountIn = ONE_BAR_OF_STICKS
    end_tick: int

    def __post_init__(self) -> None:
        """Refuse what no writer could write: a negative onset, no length, velocity 0."""
        onset_before, note_before = -1, None
        for note in self.notes:
            onset = note.grid_tick + note.shift_ticks
            stated = note.stated_ticks
            if (
                onset < 0
                or note.length_ticks < 1
                or (stated is not None and stated < 1)
                or not 1 <= note.velocity <= 127
            ):
                raise ValueError(f"not a playable note: {note}")
            if onset <= onset_before and note_before and note_order(note_before) > note_order(note):
                raise ValueError("notes are not sorted")
            onset_before, note_before = onset, note

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

    def __repr__(self) -> str:
        """Return how much there is, not all of it."""
        counts = f"{len(self.bars)} bars, {len(self.notes)} notes"
        return f"<Performance {self.title!r:.50} {counts}, {self.length_sec:.1f} s>"
