"""The bass voice of an ABC tune: which it is, and its notes.

*The ABC music standard 2.1* (December 2011): voices (7.1), pitch and accidentals (4.1, 4.2),
ties (4.11), chords of notes (4.17).
"""

import re
from fractions import Fraction

from msgspec import Struct, structs

from groove.errors import OptionError, joined_hints, nearest_hint
from groove.io.abc import AbcReader, abc_key
from groove.io.abc_tunes import Tune
from groove.io.foreign import ForeignSong
from groove.io.gate import Gate, shortened
from groove.io.musicxml_parts import BASS_NAME, NO_BASS, NO_LINE, STEPS
from groove.naming import OUT_WORDS
from groove.neck.line_places import LineNote
from groove.theory.pitch import FIFTHS_ORDER, MIDDLE_C

VOICE = re.compile(r"(?:\[V:|V:)\s*(?P<name>[^\s\]]{1,40})(?P<more>[^\]]{0,200})")
VOICE_NAME = re.compile(r'\b(?:name|nm)\s*=\s*(?:"([^"]{0,80})"|(\S{1,80}))')
BASS_CLEF = re.compile(r"(?:^|\s)(?:clef\s*=\s*)?bass[-+0-9]*(?:\s|$)")
MOVED = re.compile(r"\b(?P<kind>octave|transpose)\s*=\s*(?P<steps>[+-]?[0-9]{1,2})")
PITCH = re.compile(r"(?P<sign>[_^=]{0,2})(?P<letter>[A-Ga-g])(?P<octave>[,']{0,8})")
_SIGNS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}


class TuneVoice(Struct, frozen=True, kw_only=True):
    """A voice of a tune as its fields name it; ``shift`` is in semitones."""

    number: int
    ident: str
    name: str
    is_bass: bool
    shift: int

    @property
    def words(self) -> str:
        """The voice as it is named in messages."""
        return f"{self.ident} {self.name}".strip()


def _voices_of(tune: Tune) -> list[TuneVoice]:
    """Return the voices of a tune in the order in which they are named."""
    said: dict[str, str] = {}
    for _, line in tune.lines:
        for match in VOICE.finditer(line) if line.startswith(("V:", "[V:")) else ():
            said[match["name"]] = f"{said.get(match['name'], '')} {match['more']}"
    key = next((line for _, line in tune.lines if line.startswith("K:")), "")
    everywhere = _moves(key)
    found = []
    for number, (ident, more) in enumerate(said.items(), start=1):
        named = VOICE_NAME.search(more)
        name = (named[1] or named[2] or "").strip() if named else ""
        words = f"{ident} {name}"
        plain = VOICE_NAME.sub(" ", more)
        is_named = bool(BASS_NAME.search(words)) and not NO_BASS.search(words)
        moved = everywhere | _moves(plain)
        found.append(
            TuneVoice(
                number=number,
                ident=ident,
                name=name,
                is_bass=is_named or bool(BASS_CLEF.search(plain)),
                shift=12 * moved.get("octave", 0) + moved.get("transpose", 0),
            )
        )
    return found


def _moves(text: str) -> dict[str, int]:
    """Return the octaves and semitones by which a clef moves what is heard (ABC 2.1, 4.6)."""
    return {match["kind"]: int(match["steps"]) for match in MOVED.finditer(text)}


def bass_voice(tune: Tune, wanted: str, gate: Gate) -> TuneVoice | None:
    """Return the voice that is the bass line, None where there is none; what was taken is told.

    ``wanted`` is its name or number, ``none``, or empty for the first of a bass's name or clef.
    Raises OptionError for a voice that is not there.
    """
    if wanted.casefold() in OUT_WORDS:
        return None
    voices = _voices_of(tune)
    if not wanted:
        basses = [voice for voice in voices if voice.is_bass]
        if not basses:
            return None
        others = [voice.words for voice in voices if voice is not basses[0]]
        more = f"; --line takes another, or none: {', '.join(others)}" if len(basses) > 1 else ""
        gate.report(f"the bass line is that of voice {basses[0].words}{more}")
        return basses[0]
    folded = wanted.strip().casefold()
    for voice in voices:
        if folded in (voice.ident.casefold(), voice.name.casefold(), str(voice.number)):
            return voice
    near = nearest_hint(wanted, [voice.name or voice.ident for voice in voices])
    expected = f"expected one of: {', '.join([*(v.words for v in voices), NO_LINE])}"
    raise OptionError(
        f"{gate.source} has no voice for --line {shortened(wanted)!r}",
        hint=joined_hints(near, expected),
    )


def add_voice(
    foreign: ForeignSong,
    head: tuple[tuple[int, str], ...],
    tune: Tune,
    voice: TuneVoice,
    gate: Gate,
) -> None:
    """Put a voice's notes into the bars of a tune."""
    reader = _VoiceReader(Gate(gate.source), gate, voice)
    reader.read(head, tune)
    lines = [bar.line or () for bar in reader.song.bars]
    if len(lines) != len(foreign.bars):
        gate.report(f"the bass voice has {len(lines)} bars, the tune {len(foreign.bars)}")
    for bar, line in zip(foreign.bars, lines, strict=False):
        bar.line = line


class _VoiceReader(AbcReader):
    """Reads the notes of one voice; all else is read as for the tune, and told there."""

    def __init__(self, gate: Gate, line_gate: Gate, voice: TuneVoice) -> None:
        """``line_gate`` takes what is said of the notes."""
        super().__init__(gate)
        self.line_gate = line_gate
        self.voice = voice.ident
        self.shift = voice.shift
        self.signature = 0
        self.accidentals: dict[str, int] = {}
        self.notes: list[LineNote] = []
        self.last: dict[str, int] = {}
        self.tied: dict[str, int] = {}

    def read_key(self, value: str) -> None:
        super().read_key(value)
        key = abc_key(value)
        if key:
            self.signature = key.signature_fifths

    def inside_bar(self, match: re.Match[str]) -> None:
        """Read what stands between bar lines, and keep its notes."""
        start = self.at
        super().inside_bar(match)
        if match["note"]:
            self.add(match[0], start)
        elif match["stack"]:
            self.add(match["stack"], start)
        elif match["rest"]:
            self.tied = {}
        elif match["ignored"]:
            if "-" in match["ignored"]:
                self.tied = self.last
            if match["ignored"].startswith("{"):
                self.line_gate.report("grace notes of the line are left out", self.where)

    def add(self, text: str, start: Fraction) -> None:
        """Add the notes of a text, all at one place."""
        held, self.tied, self.last = self.tied, {}, {}
        for found in PITCH.finditer(text):
            name = found["letter"] + found["octave"]
            # A tie carries the sign of the note before it over the bar line.
            pitch = self.pitch(found) if found["sign"] else held.get(name, self.pitch(found))
            self.last[name] = pitch
            if pitch in held.values() and start:
                for index, note in enumerate(self.notes):
                    if note.pitch == pitch and note.end_quarters == start:
                        length = note.length_quarters + self.last_length
                        self.notes[index] = structs.replace(note, length_quarters=length)
            elif self.last_length > 0:
                self.notes.append(
                    LineNote(
                        start_quarters=start,
                        length_quarters=self.last_length,
                        pitch=pitch,
                        is_tied=pitch in held.values(),
                    )
                )

    def pitch(self, found: re.Match[str]) -> int:
        """Return the MIDI pitch of a note: its own sign, one before it in the bar, or the key's."""
        letter = found["letter"].upper()
        if found["sign"] in _SIGNS:
            self.accidentals[letter] = _SIGNS[found["sign"]]
        marks = found["octave"].count("'") - found["octave"].count(",")
        octave = marks + found["letter"].islower()
        alter = self.accidentals.get(letter, self.of_key(letter))
        return MIDDLE_C + STEPS[letter] + 12 * octave + alter + self.shift

    def of_key(self, letter: str) -> int:
        """Return how the key signature alters a letter."""
        place = FIFTHS_ORDER.index(letter)
        if self.signature > 0:
            return int(place < self.signature)
        return -int(6 - place < -self.signature)

    def break_rhythm(self, signs: str) -> None:
        """Lengthen or shorten the note before as the tune does."""
        before = self.at
        super().break_rhythm(signs)
        more = self.at - before
        for index, note in enumerate(self.notes):
            if note.end_quarters == before:
                length = note.length_quarters + more
                self.notes[index] = structs.replace(note, length_quarters=length)

    def close_bar(self, passes: int) -> None:
        self.bar.line = tuple(self.notes)
        self.notes, self.accidentals = [], {}
        super().close_bar(passes)
