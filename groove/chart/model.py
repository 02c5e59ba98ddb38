"""A song as written: sections of bars, chords with their beats, settings with their places.

Positions and lengths are exact fractions of a quarter from the bar line.  Places are left out of
comparisons, so that two charts that say the same are equal.
"""

from enum import StrEnum
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from groove.bar_place import BandWord
from groove.chart.pickup import Pickup
from groove.chart.push import Push
from groove.errors import SourcePlace
from groove.events import NO_CHORD, ONE_BAR_OF_STICKS, CountIn, Part
from groove.naming import OUT_WORDS
from groove.neck.instrument import Tuning
from groove.notices import Notice
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.timing import Meter, Swing

DEFAULT_METER = Meter(4, 4)
DEFAULT_TEMPO_BPM = Fraction(100)


_NOT_COMPARED = frozenset({"place", "source", "notices"})
"""Fields that tell where a thing stands or how it was read, not what the chart says."""


class ChartValue(Struct, frozen=True, kw_only=True, eq=False):
    """A part of a chart, compared, hashed and shown by what it says, not by where it stands."""

    def __eq__(self, other: object) -> bool:
        """Whether both say the same, wherever they stand."""
        if not isinstance(other, type(self)):
            return NotImplemented
        return self._compared() == other._compared()

    def __ne__(self, other: object) -> bool:
        """Whether they say something else: ``Struct`` has a comparison of its own for it."""
        return not self == other

    def __hash__(self) -> int:
        """Return the hash of what is compared."""
        return hash(self._compared())

    def __repr__(self) -> str:
        """Return what is compared, by name."""
        names = (name for name in self.__struct_fields__ if name not in _NOT_COMPARED)
        said = ", ".join(f"{name}={getattr(self, name)!r}" for name in names)
        return f"{type(self).__name__}({said})"

    def _compared(self) -> tuple[object, ...]:
        """Return what is compared."""
        return tuple(
            getattr(self, name) for name in self.__struct_fields__ if name not in _NOT_COMPARED
        )


class Fills(StrEnum):
    """How many fills the band plays."""

    NONE = "none"
    FEW = "few"
    MANY = "many"


class Loudness(StrEnum):
    """Dynamics, softest first."""

    PP = "pp"
    P = "p"
    MP = "mp"
    MF = "mf"
    F = "f"
    FF = "ff"


class Dynamics(Struct, frozen=True):
    """How loud a section is: one level, or moving evenly to ``end`` over all of it."""

    level: Loudness
    end: Loudness | None = None

    def __str__(self) -> str:
        """Return the dynamics as a chart has them: ``mf``, ``p to f``."""
        return f"{self.level.value} to {self.end.value}" if self.end else self.level.value


class Vary(StrEnum):
    """How much a part changes from one time of a section to the next."""

    NONE = "none"
    SOME = "some"
    MUCH = "much"


class Swell(StrEnum):
    """Louder or softer by and by."""

    CRESCENDO = "cresc"
    DIMINUENDO = "dim"


class Density(StrEnum):
    """How thick the band plays from a bar on."""

    THIN = "thin"
    BUILD = "build"


class Jump(StrEnum):
    """Where the reading goes after a bar; ``al coda`` and ``al fine`` say where it then ends."""

    TO_CODA = "to coda"
    FINE = "fine"
    SEGNO_CODA = "D.S. al coda"
    SEGNO_FINE = "D.S. al fine"
    SEGNO = "D.S."
    CAPO_CODA = "D.C. al coda"
    CAPO_FINE = "D.C. al fine"
    CAPO = "D.C."

    @property
    def goes_back(self) -> bool:
        """Whether it goes back to the sign or to the start."""
        return self not in (Jump.TO_CODA, Jump.FINE)


class BeatPoint(Struct, frozen=True):
    """A beat of a bar, from 1, or the eighth after it (in triplet feels the last triplet)."""

    beat: int
    is_off: bool = False

    def __str__(self) -> str:
        """Return it as a chart has it: ``2``, ``2+``."""
        return f"{self.beat}+" if self.is_off else str(self.beat)


class Notation(StrEnum):
    """How chords are written: by letter, or by scale degree (numbers and Roman numerals)."""

    LETTERS = "letters"
    NUMBERS = "numbers"


class Named(ChartValue, frozen=True, kw_only=True, eq=False):
    """A name that somebody else resolves (a feel, a cell), with its place."""

    name: str
    place: SourcePlace

    @property
    def is_out(self) -> bool:
        """Whether it names no cell but says that the part is out."""
        return self.name.casefold() in OUT_WORDS


class Tempo(Struct, frozen=True):
    """A tempo in beats of its section's meter per minute; ``end_bpm`` where it moves there."""

    bpm: Fraction
    end_bpm: Fraction | None = None


class Settings(Struct, frozen=True, kw_only=True):
    """What a song or a section asks for; None where it leaves the word to what is above it.

    ``transpose`` is in semitones.  ``bass``, ``drums`` and ``keys`` name a cell or one of
    the chart's own, or say that the part is out.
    """

    tempo: Tempo | None = None
    meter: Meter | None = None
    key: Key | None = None
    feel: Named | None = None
    bass: Named | None = None
    drums: Named | None = None
    keys: Named | None = None
    fills: Fills | None = None
    swing: Swing | None = None
    dynamics: Dynamics | None = None
    vary: Vary | None = None
    bass_tone: Named | None = None
    transpose: int | None = None
    tuning: Tuning | None = None
    seed: int | None = None

    def over(self, base: "Settings") -> "Settings":
        """Return these settings with what they leave open taken from ``base``."""
        left_open = (name for name in SETTING_FIELDS if getattr(self, name) is None)
        return replace(self, **{name: getattr(base, name) for name in left_open})


SETTING_FIELDS = tuple(Settings.__struct_fields__)


class ChordSpan(ChartValue, frozen=True, kw_only=True, eq=False):
    """A chord in a bar, from ``start_quarters`` for ``length_quarters``.

    ``chord`` is None for no chord; ``written`` is the symbol as the chart has it, without its
    push; ``push`` how early the chord arrives, None where it comes in its place.
    """

    chord: Chord | None
    written: str
    start_quarters: Fraction
    length_quarters: Fraction
    push: Push | None = None
    place: SourcePlace

    @property
    def push_sign(self) -> str:
        """The sign before the symbol, empty where it comes in its place."""
        return self.push.sign if self.push else ""

    @property
    def symbol(self) -> str:
        """The chord's symbol in letters, ``N.C.`` for no chord."""
        return self.chord.symbol if self.chord else NO_CHORD


class Slot(ChartValue, frozen=True, kw_only=True, eq=False):
    """One slot of a riff: its token, and its level (1 to 9) where the chart says one."""

    token: str
    level: int | None = None
    place: SourcePlace


class RiffRow(ChartValue, frozen=True, kw_only=True, eq=False):
    """Bars of slots: ``name`` says when they are played or which drum they are, empty for none."""

    name: str
    bars: tuple[tuple[Slot, ...], ...]


class Riff(ChartValue, frozen=True, kw_only=True, eq=False):
    """A cell that is written in the chart itself, for the bass, the drums or the keys.

    It has no meter of its own: it is played in that of the section that names it.
    """

    part: Part
    name: str
    rows: tuple[RiffRow, ...]
    place: SourcePlace


class Slur(StrEnum):
    """How a note is reached without a stroke of the plucking hand."""

    HAMMER_ON = "hammer-on"
    PULL_OFF = "pull-off"
    SLIDE = "slide"


class WrittenNote(ChartValue, frozen=True, kw_only=True, eq=False, gc=False):
    """A note that the player wrote: when from the bar line, on which string (1 the highest).

    ``fret`` and ``pitch`` (a MIDI number) are None for a ghost, which is struck where the hand is;
    of a harmonic ``fret`` is where the string is touched.  ``slur`` is how it comes from the note
    before it on its string, ``bend_semitones`` how far it is bent up; ``is_tied`` says that it
    goes on from the bar before.
    """

    start_quarters: Fraction
    length_quarters: Fraction
    string: int
    fret: int | None
    pitch: int | None
    slur: Slur | None = None
    bend_semitones: int = 0
    is_harmonic: bool = False
    has_vibrato: bool = False
    is_tied: bool = False
    place: SourcePlace


class TabLine(ChartValue, frozen=True, kw_only=True, eq=False):
    """A bar of tab: its notes by time, on open strings of these pitches, lowest first."""

    open_pitches: tuple[int, ...]
    notes: tuple[WrittenNote, ...]


class TokenLine(ChartValue, frozen=True, kw_only=True, eq=False):
    """A bar of tokens under a bar."""

    slots: tuple[Slot, ...]


class Directions(Struct, frozen=True, kw_only=True):
    """What else is said to the band at a bar's head.

    Of this bar: ``hits`` all play and nothing else sounds, ``kicks`` all catch while time goes on,
    ``fill`` asks for a fill or forbids it.  From here to the next of its kind or the section's
    end: ``dynamic``, ``swell``, ``density``, ``feel``.  At the song's end: ``has_ritard`` from
    here on, ``tag`` how often the bars from here on are played in all (0: not said), ``has_hit``.
    ``has_segno`` and ``has_coda`` are marks that a ``jump`` goes to; they stand before the bar,
    the jump after it.
    """

    hits: tuple[BeatPoint, ...] = ()
    kicks: tuple[BeatPoint, ...] = ()
    fill: bool | None = None
    dynamic: Loudness | None = None
    swell: Swell | None = None
    density: Density | None = None
    feel: Named | None = None
    has_ritard: bool = False
    tag: int = 0
    has_hit: bool = False
    has_segno: bool = False
    has_coda: bool = False
    jump: Jump | None = None


NO_DIRECTIONS = Directions()


class WrittenBar(ChartValue, frozen=True, kw_only=True, eq=False):
    """A bar of the chart.

    ``number`` counts the chart's bars from 1; ``meter`` is the bar's own (stated or not),
    ``states_meter`` whether the chart says it here; ``repeats_bar`` marks ``%``;
    ``opens_repeat`` and ``closes_repeat`` the signs at its edges, ``passes`` how often a closed
    repeat is played in all; ``endings`` the passes that play this bar (empty: every pass);
    ``double_bar`` a ``||`` at its end; ``line`` is what the player wrote under it,
    ``cues`` what is told over it.
    """

    number: int
    meter: Meter
    chords: tuple[ChordSpan, ...]
    states_meter: bool = False
    repeats_bar: bool = False
    word: BandWord | None = None
    directions: Directions = NO_DIRECTIONS
    cues: tuple[str, ...] = ()
    opens_repeat: bool = False
    closes_repeat: bool = False
    passes: int = 2
    endings: tuple[int, ...] = ()
    double_bar: bool = False
    line: TabLine | TokenLine | None = None
    place: SourcePlace

    def __repr__(self) -> str:
        """Return the bar's number and its chords on one line."""
        chords = " ".join(span.push_sign + span.symbol for span in self.chords)
        return f"<WrittenBar {self.number} {self.meter}: {chords:.60}>"


class Section(ChartValue, frozen=True, kw_only=True, eq=False):
    """A named run of bars with its own settings.

    ``like`` names the section whose bars and settings it has, where it has none of its own, and
    ``changed`` the bars, from 1, that differ.
    """

    name: str
    settings: Settings
    bars: tuple[WrittenBar, ...]
    like: str = ""
    changed: tuple[int, ...] = ()
    place: SourcePlace

    def __repr__(self) -> str:
        """Return how much there is, not all of it."""
        return f"<Section {self.name!r:.50} {len(self.bars)} bars>"


class FormEntry(Struct, frozen=True, kw_only=True):
    """One step of the form: a section, played ``times`` times in a row."""

    section: str
    times: int = 1


class Song(ChartValue, frozen=True, kw_only=True, eq=False):
    """A chart, read: ``form`` is empty where the sections are played as written.

    ``count_in`` is how the band is counted in, ``pickup`` what stands before bar 1, None for
    nothing, ``pickup_bar`` its chords and what is written under them, None where the band waits;
    ``riffs`` are the chart's own cells.  ``notices`` say what the reader changed (a key that had to
    be respelled).
    """

    title: str
    settings: Settings
    sections: tuple[Section, ...]
    form: tuple[FormEntry, ...] = ()
    notation: Notation = Notation.LETTERS
    count_in: CountIn = ONE_BAR_OF_STICKS
    pickup: Pickup | None = None
    pickup_bar: WrittenBar | None = None
    riffs: tuple[Riff, ...] = ()
    notices: tuple[Notice, ...] = ()
    source: str = "chart"

    @property
    def meter(self) -> Meter:
        """The song's meter."""
        return self.settings.meter or DEFAULT_METER

    @property
    def first_section(self) -> Section:
        """The section that is played first."""
        return self.section(self.form[0].section) if self.form else self.sections[0]

    @property
    def pickup_words(self) -> str:
        """The pickup in words: ``1 beat``, ``2 beats: A7``; empty where there is none."""
        if self.pickup is None:
            return ""
        spans = self.pickup_bar.chords if self.pickup_bar else ()
        symbols = [span.written for span in spans if span.chord]
        return self.pickup.words + (f": {' '.join(symbols)}" if symbols else "")

    @property
    def tempo(self) -> Tempo:
        """The song's tempo in beats of ``meter``; where only sections have one, the first one's."""
        first = self.first_section
        own = first.settings.tempo
        if self.settings.tempo or not own:
            return self.settings.tempo or Tempo(DEFAULT_TEMPO_BPM)
        beat = (first.settings.meter or self.meter).tempo_unit_quarters
        scale = beat / self.meter.tempo_unit_quarters
        return Tempo(own.bpm * scale, own.end_bpm * scale if own.end_bpm else None)

    def section(self, name: str) -> Section:
        """Return the section of a name, case aside.  Raises KeyError."""
        folded = name.casefold()
        for section in self.sections:
            if section.name.casefold() == folded:
                return section
        raise KeyError(name)

    def __repr__(self) -> str:
        """Return how much there is, not all of it."""
        bars = sum(len(section.bars) for section in self.sections)
        return f"<Song {self.title!r:.50} {len(self.sections)} sections, {bars} bars>"
