"""Charts from ABC: chords in quotes, meters, keys, repeats, endings, parts, tempo.

*The ABC music standard 2.1* (December 2011).  Notes are read only for their lengths, which say
where a chord stands; of several voices the first one is read.
"""

import re
from fractions import Fraction

from groove.chart.form import MOST_PLAYED_BARS
from groove.chart.model import DEFAULT_METER, Song
from groove.io.abc_music import (
    MOST_BROKEN,
    TOKEN,
    abc_symbol,
    ending_numbers,
    length_factor,
    part_order,
    read_bar_line,
    tuplet_ratio,
)
from groove.io.abc_tunes import Tune, chosen_tune, read_book
from groove.io.foreign import ForeignBar, ForeignSong, foreign_to_song
from groove.io.gate import Gate, Where, fine_place, meter_of, one_line, shortened
from groove.io.playing import ScoreJump, Until
from groove.theory.keys import Key, Mode
from groove.theory.pitch import parse_note

_MOST_LINES = 300_000
MOST_TUNE_CHARACTERS = 100_000
_TRANSPOSED = re.compile(r"\btranspose\s*=\s*[+-]?[1-9][0-9]?")
_FIELD = re.compile(r"([A-Za-z+]):(?![|:])\s*(.*)")
_MODES = {"maj": Mode.MAJOR, "ion": Mode.IONIAN, "": Mode.MAJOR, "m": Mode.MINOR, "min": Mode.MINOR}
_MODES |= {"aeo": Mode.AEOLIAN, "dor": Mode.DORIAN, "phr": Mode.PHRYGIAN, "lyd": Mode.LYDIAN}
_MODES |= {"mix": Mode.MIXOLYDIAN, "loc": Mode.LOCRIAN}
METER_SIGNS = {"C": "4/4", "C|": "2/2"}
FREE_METERS = ("none", "")
JUMPS = {
    "d.c.": ScoreJump(None),
    "dacapo": ScoreJump(None),
    "d.s.": ScoreJump(""),
    "dalsegno": ScoreJump(""),
    "dacoda": ScoreJump(None, Until.CODA),
    "d.c.alfine": ScoreJump(None, Until.FINE),
    "d.s.alfine": ScoreJump("", Until.FINE),
    "d.c.alcoda": ScoreJump(None, Until.CODA),
    "d.s.alcoda": ScoreJump("", Until.CODA),
}
"""Decorations (4.14) and texts, without blanks and in small letters, that send the player back."""


def song_from_abc(text: str, source: str = "tune", tune: str = "", line: str = "") -> Song:
    """Return the song of a tune in an ABC file: named by number or title, else the first one.

    ``line`` is the voice whose notes stand under the bars, empty to choose it (see
    ``bass_voice``).  Raises ChartError with line and column for what cannot be read.
    """
    gate = Gate(source)
    if text.count("\n") + text.count("\r") > _MOST_LINES:
        raise gate.error("the file is too long", hint=f"expected at most {_MOST_LINES} lines")
    book = read_book(text)
    gate.lines = [
        line for part in (book.head, *(each.lines for each in book.tunes)) for _, line in part
    ]
    chosen = chosen_tune(book, tune, gate)
    first = chosen.lines[0][0]
    if sum(len(line) for _, line in chosen.lines) > MOST_TUNE_CHARACTERS:
        message = f"the tune has more than {MOST_TUNE_CHARACTERS} letters"
        raise gate.error(message, Where("", first), hint="a tune has some kB")
    reader = AbcReader(gate)
    reader.read(book.head, chosen)
    if not reader.song.bars:
        hint = "expected a tune with K: and bar lines"
        raise gate.error("found no bars", Where("", first), hint=hint)
    from groove.io.abc_line import add_voice, bass_voice

    voice = bass_voice(chosen, line, gate)
    if voice:
        add_voice(reader.song, book.head, chosen, voice, gate)
    return foreign_to_song(reader.song, gate)


def abc_key(value: str) -> Key | None:
    """Return the key of a field ``K:`` (ABC 2.1, 3.1.14), None where it states none."""
    match = re.match(r"([A-G][b#]?)\s*([A-Za-z]*)", value)
    if not match:
        return None
    return Key(parse_note(match[1]), _MODES.get(match[2].casefold()[:3], Mode.MAJOR))


class AbcReader:
    """Reads one tune line by line; ``at`` is the place in the bar in quarters."""

    def __init__(self, gate: Gate) -> None:
        """Begin before the head."""
        self.gate = gate
        self.song = ForeignSong()
        self.meter = DEFAULT_METER
        self.unit: Fraction | None = None
        self.in_body = False
        self.in_text = False
        self.voice: str | None = None
        self.reads_voice = True
        self.key = ""
        self.parts_wanted = ""
        self.part_starts: list[tuple[str, int]] = []
        self.line = 1
        self.at = Fraction(0)
        self.bar = ForeignBar(where=self.where, meter=DEFAULT_METER)
        self.endings: tuple[int, ...] = ()
        self.tuplet_left = 0
        self.tuplet_ratio = Fraction(1)
        self.broken = 0
        self.last_length = Fraction(0)
        self.in_overlay = False
        self.has_ended = False

    @property
    def where(self) -> Where:
        """Where the bar that is being read stands."""
        return Where(f"bar {len(self.song.bars) + 1} (line {self.line})", self.line)

    def read(self, head: tuple[tuple[int, str], ...], tune: Tune) -> None:
        """Read what stands before all tunes, and the tune."""
        for number, line in (*head, *tune.lines):
            self.line = number
            self.read_line(line)
            if self.has_ended:
                break
        self.close_bar(0)
        self.order_parts()

    def read_line(self, raw: str) -> None:
        """Read one line."""
        if raw.startswith("%%"):
            self.in_text = raw.startswith(("%%begintext", "%%beginps", "%%beginsvg")) or (
                self.in_text and not raw.startswith("%%end")
            )
        line = _strip_comment(raw)
        if self.in_text or not line.strip():
            # An empty line ends a tune (2.2); a comment does not.
            self.has_ended = self.in_body and not raw.strip() and not self.in_text
            return
        field = _FIELD.match(line)
        if field:
            self.field(field[1], field[2].strip())
        elif self.in_body and self.reads_voice:
            self.music(line)

    # --- fields ---

    def field(self, name: str, value: str) -> None:
        """Read a field of the head, of a line of its own, or in brackets."""
        if name == "V":
            words = value.split()[:1]
            self.voice = self.voice or (words[0] if words else None)
            self.reads_voice = not self.in_body or not words or words == [self.voice]
        elif not self.reads_voice:
            return
        elif name == "T" and not self.song.title:
            self.song.title = value
        elif name == "M":
            self.read_meter(value)
        elif name == "L":
            self.unit = self.fraction(value) or self.unit
        elif name == "Q":
            self.read_tempo(value)
        elif name == "P":
            self.read_part(value)
        elif name == "K":
            self.read_key(value)
            self.in_body = True

    def read_part(self, value: str) -> None:
        """Read the order of parts in the head, the name of one in the body."""
        if not self.in_body:
            self.parts_wanted = value
            return
        self.close_bar(0)
        self.endings = ()
        self.bar.section = one_line(value)
        self.part_starts.append((value.strip()[:1], len(self.song.bars)))

    def read_meter(self, value: str) -> None:
        """Read a meter; sums are added up, ``C`` and ``C|`` are 4/4 and 2/2."""
        if value in FREE_METERS:
            return
        text = re.sub(r"[()\s]", "", METER_SIGNS.get(value, value))
        match = re.fullmatch(r"([0-9+]{1,40})/([0-9]{1,9})", text)
        counts = [self.gate.whole(word, "beats") for word in (match[1] if match else "").split("+")]
        unit = self.gate.whole(match[2], "beat type") if match else None
        total = sum(count or 0 for count in counts)
        meter = meter_of(Fraction(total), unit) if unit and all(counts) else None
        if meter is None:
            where = Where(f"line {self.line}", self.line)
            self.gate.report(f"the meter {shortened(value)!r} is left out", where)
            return
        self.meter = meter
        if not self.at and not self.bar.chords:
            self.bar.meter = meter

    def read_tempo(self, value: str) -> None:
        """Read a tempo: ``1/4=120``, or ``120`` of the unit length."""
        where = Where(f"line {self.line}", self.line)
        plain = re.sub(r'"[^"]*"', "", value).strip()
        match = re.fullmatch(r"(?:([0-9/ ]{1,40})=)?\s*([0-9]{1,9})", plain)
        per_minute = self.gate.bounded(match[2], "tempo", where) if match else None
        units = [self.fraction(word) for word in ((match[1] if match else "") or "").split()]
        if per_minute is None or not all(units):
            if plain or not value:
                self.gate.report(f"the tempo {shortened(value)!r} is left out", where)
            return
        unit = sum((each for each in units if each), Fraction(0)) or self.unit_length
        self.bar.qpm = self.gate.tempo(4 * unit * per_minute, where)

    def read_key(self, value: str) -> None:
        """Read a key; what is none (``none``, bagpipes, a clef alone) is left out."""
        if moved := _TRANSPOSED.search(value):
            where = Where(f"line {self.line}", self.line)
            self.gate.report(f"{moved[0]} moves notes alone: chords are read as they stand", where)
        key = abc_key(value)
        if key is None:
            return
        name = key.respelled().name
        if name != self.key:
            self.bar.key = self.key = name

    def fraction(self, text: str) -> Fraction | None:
        """Return a fraction of a whole note, None for what is none; that is told."""
        where = Where(f"line {self.line}", self.line)
        above, slash, below = text.strip().partition("/")
        count = self.gate.bounded(above, "length", where)
        divisor = self.gate.bounded(below if slash else "1", "divisor", where)
        if not count or not divisor:
            self.gate.report(f"{shortened(text)!r} is no length and is left out", where)
            return None
        return count / divisor

    @property
    def unit_length(self) -> Fraction:
        """The unit note length: as stated, else by the meter (3.1.7)."""
        if self.unit is not None:
            return self.unit
        return Fraction(1, 16 if self.meter.bar_quarters < 3 else 8)

    # --- music ---

    def music(self, line: str) -> None:
        """Read a line of music; what is none is passed over and told."""
        column = 0
        while column < len(line):
            match = TOKEN.match(line, column)
            if not match or match.end() == column:
                where = Where(f"line {self.line}", self.line)
                self.gate.report(f"{line[column]!r} is no ABC music and is passed over", where)
                column += 1
                continue
            self.token(match)
            column = match.end()

    def token(self, match: re.Match[str]) -> None:
        """Read one thing: a field, a bar line, or what stands between bar lines."""
        if match["field"]:
            self.field(match["field"], match["value"].strip())
        elif not self.reads_voice:
            return
        elif match["bar"] or match["ending"]:
            self.bar_line(match["bar"] or "", match["after"] or match["ending"])
        elif not self.in_overlay:
            self.inside_bar(match)

    def inside_bar(self, match: re.Match[str]) -> None:
        """Read a chord symbol, a sign, or what moves the place in the bar."""
        if not self.at and not self.bar.chords:
            self.bar.where = self.where
        if match["quoted"] is not None:
            self.quoted(match["quoted"])
        elif match["decoration"]:
            self.sign(match["decoration"][1:-1])
        elif match["tuplet"]:
            ratio = tuplet_ratio(match, is_compound=self.meter.is_compound)
            self.tuplet_ratio, self.tuplet_left = ratio
        elif match["broken"]:
            self.break_rhythm(match["broken"])
        elif match["bars_rest"]:
            self.rest_bars(match["rested"])
        elif match["overlay"]:
            self.in_overlay = True
        elif sounding := next((n for n in ("note", "rest", "stack") if match[n]), None):
            self.sound(self.length(match, sounding))

    def length(self, match: re.Match[str], name: str) -> Fraction:
        """Return the length of a note, a rest or a stack of notes in quarters."""
        factor = length_factor(match[f"{name}_n"], match[f"{name}_d"], self.gate, self.where)
        if name == "stack":
            inner = re.search(r"[A-Ga-gzx][,']*([0-9]*)(/*[0-9]*)", match["stack"])
            if not inner:
                return Fraction(0)
            factor *= length_factor(inner[1], inner[2], self.gate, self.where)
        return 4 * self.unit_length * factor

    def sound(self, length: Fraction) -> None:
        """Move on by a note, as tuplets and broken rhythm ask."""
        if self.tuplet_left:
            self.tuplet_left -= 1
            length *= self.tuplet_ratio
        if self.broken:
            share = Fraction(1, 2 ** abs(self.broken))
            length *= share if self.broken > 0 else 2 - share
            self.broken = 0
        self.last_length = length
        self.at = fine_place(self.at + length)

    def break_rhythm(self, signs: str) -> None:
        """Lengthen the note before and shorten the one after (``>``), or the reverse."""
        count = min(len(signs), MOST_BROKEN) * (1 if signs[0] == ">" else -1)
        share = Fraction(1, 2 ** abs(count))
        self.at += self.last_length * ((1 - share) if count > 0 else (share - 1))
        self.broken = count

    def quoted(self, text: str) -> None:
        """Read a chord symbol; texts with a place (``^text``) are signs or not for us."""
        if text[:1] in ("^", "_", "<", ">", "@", ""):
            self.sign(text[1:])
            return
        symbol = abc_symbol(text)
        if symbol is None and not self.sign(text):
            message = f"{shortened(one_line(text))!r} is no chord and is left out"
            self.gate.report(message, self.where)
        elif symbol is not None:
            self.bar.add_chord(self.at, symbol, self.gate)

    def sign(self, text: str) -> bool:
        """Read a sign of a jump; return whether it is one."""
        name = re.sub(r"\s", "", text).casefold()
        signs = self.bar.signs
        jump = JUMPS.get(name)
        if jump:
            signs.jump = jump
        elif name == "fine":
            signs.fine = True
        elif name == "segno":
            signs.segno = ""
        elif name == "tocoda":
            signs.to_coda = ""
        elif name == "coda":
            signs.coda = ""
        else:
            return False
        return True

    def rest_bars(self, rested: str) -> None:
        """Add bars of rest."""
        for _ in range(self.gate.whole(rested or "1", "bars of rest", self.where) or 1):
            self.at = self.meter.bar_quarters
            self.close_bar(0)

    def bar_line(self, signs: str, ending: str | None) -> None:
        """Read a bar line: what it closes, what it opens, an ending after it."""
        found = read_bar_line(signs)
        self.close_bar(found.passes)
        if found.ends_endings:
            self.endings = ()
        if found.opens:
            self.bar.opens_repeat = True
        if ending:
            self.endings = ending_numbers(ending, self.gate, self.where)

    def close_bar(self, passes: int) -> None:
        """End a bar, if anything stands in it, and begin the next."""
        self.in_overlay = False
        if self.at or self.bar.chords:
            self.bar.endings = self.endings
            self.bar.length_quarters = self.at or None
            self.song.bars.append(self.bar)
            if len(self.song.bars) > MOST_PLAYED_BARS:
                raise self.gate.error(f"found more than {MOST_PLAYED_BARS} bars", self.where)
            self.bar = ForeignBar(where=self.where, meter=self.meter)
        if passes and self.song.bars:
            self.song.bars[-1].closes_repeat = True
            self.song.bars[-1].passes = max(passes, self.song.bars[-1].passes)
        self.bar.where = self.where
        self.at = Fraction(0)

    # --- parts ---

    def order_parts(self) -> None:
        """Put the parts in the order that the head asks for (3.1.9)."""
        if not self.parts_wanted or not self.part_starts:
            return
        bars = len(self.song.bars)
        starts = [start for _, start in self.part_starts]
        ends = [*starts[1:], bars]
        runs = {
            name: (start, end)
            for (name, start), end in zip(self.part_starts, ends, strict=True)
            if end > start
        }
        order = part_order(self.parts_wanted, set(runs), MOST_PLAYED_BARS)
        if order is None:
            message = f"the order of parts {shortened(self.parts_wanted)!r} cannot be followed"
            self.gate.report(f"{message}, they are played as they stand")
        else:
            before = [(0, starts[0])] if starts[0] else []
            self.song.parts = [*before, *(runs[name] for name in order)]


def _strip_comment(line: str) -> str:
    """Return a line without what follows an unescaped ``%``."""
    return re.sub(r"(?<!\\)%.*", "", line)
