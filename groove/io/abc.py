"""Charts from ABC: chords in quotes, meters, keys, repeats, endings, parts, tempo.

*The ABC music standard 2.1* (December 2011).  Notes are read only for their lengths, which say
where a chord stands; of several voices the first one is read, of several tunes the first.
"""

import re
from collections.abc import Iterator
from fractions import Fraction

from groove.chart.model import Song
from groove.chart.settings import parse_meter
from groove.errors import ChartError, SourcePlace
from groove.io.foreign import NO_CHORD, ForeignBar, ForeignSong, foreign_to_song
from groove.theory.chords import parse_chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import parse_note
from groove.timing import Meter

MOST_CHARACTERS = 5_000_000
MOST_RESTED_BARS = 200
DEFAULT_METER = Meter(4, 4)
FIELD = re.compile(r"([A-Za-z+]):(?![|:])\s*(.*)")
MODES = {"maj": Mode.MAJOR, "ion": Mode.MAJOR, "": Mode.MAJOR, "m": Mode.MINOR, "min": Mode.MINOR}
MODES |= {"aeo": Mode.MINOR, "dor": Mode.DORIAN, "phr": Mode.PHRYGIAN, "lyd": Mode.LYDIAN}
MODES |= {"mix": Mode.MIXOLYDIAN, "loc": Mode.LOCRIAN}
LENGTH = r"(?P<{0}_n>\d*)(?P<{0}_d>/*\d*)"
TOKEN = re.compile(
    r'"(?P<quoted>[^"]*)"'
    r"|\[(?P<field>[A-Za-z]):(?P<value>[^\]]*)\]"
    r"|\[(?P<ending>\d[\d,.\-]*)"
    r"|(?P<bar>:*\[?\|+[:\]|]*|:{2,}|:(?=\s*$))(?:\s*\[?(?P<after>\d[\d,.\-]*))?"
    r"|\((?P<tuplet>[2-9])(?::(?P<normal>\d?))?(?::(?P<count>\d?))?"
    r"|\[(?P<stack>[^\]|]*)\]"
    + LENGTH.format("stack")
    + r"|[_^=]*(?P<note>[A-Ga-g])[,']*"
    + LENGTH.format("note")
    + r"|(?P<rest>[zx])"
    + LENGTH.format("rest")
    + r"|(?P<bars_rest>[ZX])(?P<rested>\d*)"
    r"|(?P<broken>>+|<+)"
    r"|(?P<overlay>&)"
    r"|(?P<ignored>\{[^}]*\}|![^!]*!|\+[^+]*\+|[\s\-()~.HIJKLMNOPQRSTUVWhijklmnopqrstuvwY\\`*;?@#$y0-9/,'\]]+)"
)
"""One thing in a line of music; what has no bearing on lengths is ``ignored``."""
TUPLET_NORMALS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}


def song_from_abc(text: str, source: str = "tune") -> Song:
    """Return the song of an ABC file's first tune.

    Raises ChartError with line and column for what cannot be read.
    """
    if len(text) > MOST_CHARACTERS:
        raise place_error("the file is too long", source, 1, 1, "")
    reader = AbcReader(source)
    reader.read(text)
    if not reader.song.bars:
        raise place_error(
            "found no bars", source, 1, 1, text[:80], hint="expected a tune with K: and bar lines"
        )
    return foreign_to_song(reader.song, source)


def place_error(
    message: str, source: str, line: int, column: int, text: str, *, hint: str = ""
) -> ChartError:
    """Return an error with its place."""
    place = SourcePlace(source=source, line=line, column=column, text=text)
    return ChartError(message, place=place, hint=hint)


class AbcReader:
    """Reads one tune line by line; ``at`` is the place in the bar in quarters."""

    def __init__(self, source: str) -> None:
        """Begin before the head."""
        self.source = source
        self.song = ForeignSong()
        self.meter = DEFAULT_METER
        self.unit: Fraction | None = None
        self.in_body = False
        self.voice: str | None = None
        self.reads_voice = True
        self.key = ""
        self.at = Fraction(0)
        self.bar = ForeignBar(meter=DEFAULT_METER)
        self.lengths: list[Fraction] = []
        self.endings: tuple[int, ...] = ()
        self.tuplet_left = 0
        self.tuplet_ratio = Fraction(1)
        self.broken = 0
        self.last_length = Fraction(0)
        self.in_overlay = False
        self.line = (1, "")

    def read(self, text: str) -> None:
        """Read the first tune of a file."""
        tunes = 0
        for number, raw in enumerate(text.splitlines(), start=1):
            self.line = (number, raw)
            line = raw if raw.startswith("%") else strip_comment(raw)
            if line.startswith("%") or not line.strip():
                if self.in_body and not raw.strip():
                    break
                continue
            field = FIELD.match(line)
            if field and field[1] == "X":
                tunes += 1
                if tunes > 1:
                    break
            if field:
                self.field(field[1], field[2].strip())
            elif self.in_body and self.reads_voice:
                self.music(line)
        self.close_bar()
        merge_upbeats(self.song, self.lengths)

    # --- fields ---

    def field(self, name: str, value: str) -> None:
        """Read a field of the head, of a line of its own, or in brackets."""
        if name == "V":
            self.voice = self.voice or value.split()[0] if value else self.voice
            self.reads_voice = not self.in_body or value.split()[:1] == [self.voice]
        elif not self.reads_voice:
            return
        elif name == "T" and not self.song.title:
            self.song.title = value
        elif name == "M":
            self.read_meter(value)
        elif name == "L":
            self.unit = self.fraction(value)
        elif name == "Q":
            self.read_tempo(value)
        elif name == "P" and self.in_body:
            self.bar.section = value
        elif name == "K":
            self.read_key(value)
            self.in_body = True

    def read_meter(self, value: str) -> None:
        """Read a meter; sums are added up, ``C`` and ``C|`` are 4/4 and 2/2."""
        signs = {"C": "4/4", "C|": "2/2", "none": "4/4", "": "4/4"}
        text = signs.get(value, value).replace("(", "").replace(")", "").replace(" ", "")
        beats, _, unit = text.partition("/")
        if re.fullmatch(r"\d+(\+\d+)+", beats):
            text = f"{sum(map(int, beats.split('+')))}/{unit}"
        meter = parse_meter(text)
        if meter is None:
            raise self.error(f"no such meter: {value}", hint="expected a meter as M:4/4")
        self.meter = meter
        if not self.at and not self.bar.chords:
            self.bar.meter = meter

    def read_tempo(self, value: str) -> None:
        """Read a tempo: ``1/4=120``, or ``120`` of the unit length."""
        plain = re.sub(r'"[^"]*"', "", value).strip()
        match = re.fullmatch(r"(?:([\d/ ]+)=)?\s*(\d{1,4})", plain)
        if not match:
            self.song.notices.append(f"the tempo {value!r} is left out")
            return
        beats = (match[1] or "").split()
        unit = sum((self.fraction(word) for word in beats), Fraction(0)) or self.unit_length
        self.bar.qpm = float(4 * unit * int(match[2]))

    def read_key(self, value: str) -> None:
        """Read a key; what is none (``none``, bagpipes, a clef alone) is left out."""
        match = re.match(r"([A-G][b#]?)\s*([A-Za-z]*)", value)
        if not match:
            return
        mode = MODES.get(match[2].casefold()[:3])
        if mode is None and match[2]:
            mode = Mode.MAJOR
        name = Key(parse_note(match[1]), mode or Mode.MAJOR).respelled().name
        if name != self.key:
            self.bar.key = self.key = name

    def fraction(self, text: str) -> Fraction:
        """Return a fraction of a whole note.  Raises ChartError."""
        match = re.fullmatch(r"(\d+)(?:/(\d+))?", text.strip())
        if not match or (match[2] and int(match[2]) == 0):
            raise self.error(f"not a length: {text}", hint="expected a length as 1/8")
        return Fraction(int(match[1]), int(match[2] or 1))

    @property
    def unit_length(self) -> Fraction:
        """The unit note length: as stated, else by the meter (2.1, section 3.1.7)."""
        if self.unit is not None:
            return self.unit
        return Fraction(1, 16 if self.meter.bar_quarters < 3 else 8)

    # --- music ---

    def music(self, line: str) -> None:
        """Read a line of music."""
        column = 0
        while column < len(line):
            match = TOKEN.match(line, column)
            if not match or match.end() == column:
                raise self.error(
                    f"found {line[column]!r}", column=column + 1, hint="expected ABC 2.1 music"
                )
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
        """Read a chord symbol, or what moves the place in the bar."""
        if match["quoted"] is not None:
            self.quoted(match["quoted"])
        elif match["tuplet"]:
            self.tuplet(match)
        elif match["broken"]:
            self.break_rhythm(match["broken"])
        elif match["bars_rest"]:
            self.rest_bars(int(match["rested"] or 1))
        elif match["overlay"]:
            self.in_overlay = True
        elif sounding := next((n for n in ("note", "rest", "stack") if match[n]), None):
            self.sound(self.length(match, sounding))

    def length(self, match: re.Match[str], name: str) -> Fraction:
        """Return the length of a note, a rest or a stack of notes in quarters."""
        factor = length_factor(match[f"{name}_n"], match[f"{name}_d"])
        if name == "stack":
            inner = re.search(r"[A-Ga-gzx][,']*(\d*)(/*\d*)", match["stack"])
            if not inner:
                return Fraction(0)
            factor *= length_factor(inner[1], inner[2])
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
        self.at += length

    def break_rhythm(self, signs: str) -> None:
        """Lengthen the note before and shorten the one after (``>``), or the reverse."""
        count = len(signs) if signs[0] == ">" else -len(signs)
        share = Fraction(1, 2 ** abs(count))
        self.at += self.last_length * ((1 - share) if count > 0 else (share - 1))
        self.broken = count

    def tuplet(self, match: re.Match[str]) -> None:
        """Begin a tuplet: ``(3`` is three notes in the time of two."""
        actual = int(match["tuplet"])
        usual = TUPLET_NORMALS.get(actual, 3 if self.meter.is_compound else 2)
        self.tuplet_ratio = Fraction(int(match["normal"] or usual), actual)
        self.tuplet_left = int(match["count"] or actual)

    def quoted(self, text: str) -> None:
        """Read a chord symbol; texts with a place (``^text``) are not for us."""
        if text[:1] in ("^", "_", "<", ">", "@", ""):
            return
        symbol = abc_symbol(text)
        if symbol is None:
            self.song.notices.append(f"{text!r} is no chord and is left out")
        else:
            self.bar.chords.append((self.at, symbol))

    def rest_bars(self, count: int) -> None:
        """Add bars of rest."""
        if count > MOST_RESTED_BARS:
            raise self.error(f"{count} bars of rest", hint=f"expected at most {MOST_RESTED_BARS}")
        for _ in range(count):
            self.at = self.meter.bar_quarters
            self.close_bar()

    def bar_line(self, signs: str, ending: str | None) -> None:
        """Read a bar line: what it closes, what it opens, an ending after it."""
        closes = signs.startswith(":")
        opens = signs.endswith(":") and (len(signs) > 1 or not closes)
        self.close_bar(closes=closes)
        if closes or "||" in signs or "]" in signs or opens:
            self.endings = ()
        if opens:
            self.bar.opens_repeat = True
        if ending:
            self.endings = ending_numbers(ending)

    def close_bar(self, *, closes: bool = False) -> None:
        """End a bar, if anything stands in it, and begin the next."""
        self.in_overlay = False
        if self.at or self.bar.chords:
            self.bar.endings = self.endings
            self.bar.closes_repeat = closes
            self.song.bars.append(self.bar)
            self.lengths.append(self.at)
            self.bar = ForeignBar(meter=self.meter)
        elif closes and self.song.bars:
            self.song.bars[-1].closes_repeat = True
        self.at = Fraction(0)

    def error(self, message: str, *, column: int = 1, hint: str = "") -> ChartError:
        """Return an error in the line that is being read."""
        number, text = self.line
        return place_error(message, self.source, number, column, text, hint=hint)


def strip_comment(line: str) -> str:
    """Return a line without what follows an unescaped ``%``."""
    return re.sub(r"(?<!\\)%.*", "", line)


def length_factor(numerator: str, divisor: str) -> Fraction:
    """Return a length as a share of the unit: ``3/2``, ``/`` a half, ``//`` a quarter."""
    factor = Fraction(int(numerator or 1))
    digits = divisor.lstrip("/")
    if digits:
        return factor / max(1, int(digits))
    return factor * Fraction(1, 2 ** divisor.count("/"))


def ending_numbers(text: str) -> tuple[int, ...]:
    """Return the passes of an ending: ``1``, ``1,3``, ``1-3``."""
    found: list[int] = []
    for part in re.split(r"[,.]", text):
        low, _, high = part.partition("-")
        if low.isdigit():
            found += range(int(low), int(high if high.isdigit() else low) + 1)
    return tuple(dict.fromkeys(found))


def abc_symbol(text: str) -> str | None:
    """Return the chord of a quoted text as a chart has it, None where it is none."""
    name = text.strip().partition("(")[0].strip() if not text.startswith("(") else text.strip("()")
    if name.upper() in ("N.C.", "NC"):
        return NO_CHORD
    head, slash, bass = name.partition("/")
    if slash and bass[:1].isalpha():
        name = f"{head}/{bass[0].upper()}{bass[1:].replace('+', '#')}"
    for candidate in candidates(name):
        try:
            parse_chord(candidate)
        except ValueError:
            continue
        return candidate
    return None


def candidates(name: str) -> Iterator[str]:
    """Yield a symbol as written, and with the bass as a letter alone."""
    yield name
    yield name.replace(" ", "")


def merge_upbeats(song: ForeignSong, lengths: list[Fraction]) -> None:
    """Take a short first bar as pickup, and join a short bar with the upbeat that fills it.

    After a repeat in mid-bar a tune goes on with the beats that the bar before lacks.
    """
    bars = song.bars
    if len(bars) > 1 and lengths[0] < bars[0].meter.bar_quarters:
        first = bars.pop(0)
        song.pickup_quarters = lengths.pop(0)
        bars[0].key, bars[0].qpm = bars[0].key or first.key, bars[0].qpm or first.qpm
        bars[0].section = bars[0].section or first.section
        bars[0].opens_repeat |= first.opens_repeat
        if first.chords:
            song.notices.append("chords in the pickup are left out")
    index = 1
    while index < len(bars):
        whole = bars[index].meter.bar_quarters
        short = lengths[index] < whole and lengths[index - 1] < whole
        if short and lengths[index - 1] + lengths[index] == whole:
            join(song, index, lengths[index - 1])
            lengths[index - 1] = whole
            del lengths[index]
        else:
            index += 1


def join(song: ForeignSong, index: int, at: Fraction) -> None:
    """Put an upbeat into the bar before it; what it opens is opened by the bar after."""
    before, upbeat = song.bars[index - 1], song.bars[index]
    after = song.bars[index + 1] if index + 1 < len(song.bars) else None
    before.chords += [(at + place, symbol) for place, symbol in upbeat.chords]
    before.closes_repeat |= upbeat.closes_repeat
    if after:
        after.opens_repeat |= upbeat.opens_repeat
        after.section = after.section or upbeat.section
        after.key, after.qpm = after.key or upbeat.key, after.qpm or upbeat.qpm
    del song.bars[index]
