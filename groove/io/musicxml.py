"""Charts from MusicXML: chord symbols, meters, keys, tempo, repeats, jumps, sections, band words.

Of the notes the bass part's are read.  A file of ours carries its chart, which is taken as long as
the bars and chords of the file still say the same; notes that were edited are written under it.
"""

from collections.abc import Iterator
from fractions import Fraction
from xml.etree.ElementTree import Element

from groove.bar_place import BandWord
from groove.chart.model import DEFAULT_METER, Song
from groove.events import NO_CHORD
from groove.io.early import put_early
from groove.io.foreign import ForeignBar, ForeignSong, foreign_to_song
from groove.io.gate import Gate, Where, fine_place, meter_of, one_line, shortened
from groove.io.musicxml_file import ScoreTree, read_tree
from groove.io.musicxml_line import LineReader
from groove.io.musicxml_parts import bass_part
from groove.io.musicxml_signs import read_signs, read_sound, settle_codas, settle_repeats
from groove.io.own_chart import is_as_drawn, own_song, with_line_of
from groove.io.swing_reading import read_swing
from groove.sheet.kinds import (
    CHORD_KINDS,
    KindDegree,
    WrittenKind,
    chord_symbol,
    inverted_symbol,
    other_symbol,
)
from groove.theory.keys import MOST_ACCIDENTALS, SIGNATURE_OFFSETS, Key, Mode
from groove.theory.pitch import FIFTHS_ORDER, SpelledPitch, semitones_to_fifths
from groove.timing import Meter

MOST_TRANSPOSED = 2
MOST_MEASURES = 20_000
_MODES = {mode.value: mode for mode in Mode}
BAND_WORDS = {word.value: word for word in BandWord}
KIND_NAMES = {name.casefold(): name for name in CHORD_KINDS} | {"minor-major": "major-minor"}
"""Kinds whatever their case, and a name that some programs write for another."""
_BEAT_UNITS = {"whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1)}
_BEAT_UNITS |= {"eighth": Fraction(1, 2), "16th": Fraction(1, 4)}


def song_from_musicxml(data: bytes, source: str = "score", line: str = "") -> Song:
    """Return the song of a MusicXML file, plain or compressed (.mxl).

    ``line`` is the part whose notes stand under the bars, by number or name, empty to choose it
    (see ``bass_part``).  Raises ChartError, with the line and the measure where there is one, for
    what cannot be read.
    """
    tree = read_tree(data, source)
    foreign = read_bars(tree)
    bass = bass_part(tree.root, tree.gate, line)
    if bass is not None:
        add_line(foreign, bass, tree.gate)
    song = foreign_to_song(foreign, tree.gate)
    own, is_own = own_song(tree.root, song, source)
    if not is_own or bass is None or (is_as_drawn(tree.root, bass) and not line):
        return own
    return with_line_of(own, song)


def read_bars(tree: ScoreTree) -> ForeignSong:
    """Return the bars of a score with all but notes.  Raises ChartError for what is no score."""
    root, gate = tree.root, tree.gate
    if root.tag != "score-partwise":
        hint = "expected <score-partwise>"
        raise gate.error(f"found <{shortened(root.tag)}>, {hint}", hint=hint)
    parts = root.findall("part")
    if not parts:
        raise gate.error("there is no part", hint="expected <part> with measures")
    return _PartReader(tree, _title_of(root)).read(_chord_part(parts), parts[0])


def add_line(foreign: ForeignSong, part: Element, gate: Gate) -> None:
    """Put the line of a part into the bars that it goes with, and chords where it is early.

    A short bar is as long as its notes at least.
    """
    line = LineReader(part, gate, [bar.where for bar in foreign.bars]).read()
    foreign.tuning = line.tuning
    for bar, notes in zip(foreign.bars, line.measures, strict=False):
        bar.line = notes
        longest = max((note.end_quarters for note in notes), default=Fraction(0))
        if bar.is_short and bar.length_quarters:
            bar.length_quarters = max(bar.length_quarters, min(longest, bar.meter.bar_quarters))
    put_early(foreign.bars)


# --- the part ---------------------------------------------------------------------------------


def _title_of(root: Element) -> str:
    for path in ("work/work-title", "movement-title"):
        text = (root.findtext(path) or "").strip()
        if text:
            return text
    return ""


def _chord_part(parts: list[Element]) -> Element:
    """Return the part with the most chord symbols, the first one among equals."""
    return max(parts, key=lambda part: len(part.findall("measure/harmony")))


class _PartReader:
    """Reads one part, measure by measure."""

    def __init__(self, tree: ScoreTree, title: str) -> None:
        self.tree = tree
        self.gate: Gate = tree.gate
        self.song = ForeignSong(title=title)
        self.meter = DEFAULT_METER
        self.divisions = Fraction(1)
        self.signature: tuple[int, Mode] | None = None
        self.key = ""
        self.transposition = 0
        self.endings: tuple[int, ...] = ()
        self.repeats_bars = 0
        self.at = self.longest = Fraction(0)
        self.where = Where("", 1)
        self.bar = ForeignBar(where=self.where, meter=DEFAULT_METER)

    def read(self, part: Element, leading: Element) -> ForeignSong:
        """Return everything that the part says, and what is written over the leading part."""
        measures = part.findall("measure")
        if not measures:
            line = self.tree.lines.get(part, 1)
            raise self.gate.error("there are no measures", Where("", line), hint="expected some")
        if len(measures) > MOST_MEASURES:
            where = self.place(measures[MOST_MEASURES])
            raise self.gate.error(f"found more than {MOST_MEASURES} measures", where)
        over = [] if leading is part else leading.findall("measure")
        for index, measure in enumerate(measures):
            self.measure(measure, over[index] if index < len(over) else None)
            self.song.bars.append(self.bar)
        signs = [bar.signs for bar in self.song.bars]
        settle_codas(signs)
        settle_repeats(measures, signs)
        return self.song

    def place(self, measure: Element) -> Where:
        number = shortened(one_line(measure.get("number", "?")))
        return Where(f"measure {number}", self.tree.lines.get(measure, 1))

    def measure(self, measure: Element, over: Element | None) -> None:
        """Read a measure into ``self.bar``; of the one over it words and signs alone."""
        self.where = self.place(measure)
        self.bar = ForeignBar(where=self.where, meter=self.meter)
        self.at = self.longest = Fraction(0)
        for element in measure:
            self.element(element)
        for element in over if over is not None else ():
            if element.tag in ("direction", "sound"):
                self.element(element)
        self.bar.length_quarters = self.longest or None
        if self.bar.opens_repeat and not self.bar.endings:
            self.endings = ()
        self.bar.endings = self.bar.endings or self.endings
        if 0 < self.repeats_bars <= len(self.song.bars) and not self.bar.chords:
            self.bar.chords = list(self.song.bars[-self.repeats_bars].chords)
        self.close_ending(measure)

    def element(self, element: Element) -> None:
        tag = element.tag
        if tag == "note":
            self.move(self.note_length(element))
        elif tag in ("backup", "forward"):
            self.move(self.length(element) * (1 if tag == "forward" else -1))
        elif tag == "harmony":
            self.harmony(element)
        elif tag == "attributes":
            self.attributes(element)
        elif tag == "direction":
            self.direction(element)
        elif tag == "sound":
            self.sound(element)
        elif tag == "barline":
            self.barline(element)

    def move(self, quarters: Fraction) -> None:
        """Move on in the measure, never before its start."""
        self.at = max(Fraction(0), fine_place(self.at + quarters))
        self.longest = max(self.longest, self.at)

    def length(self, element: Element) -> Fraction:
        """Return an element's duration in quarters."""
        divisions = self.gate.bounded(element.findtext("duration"), "duration", self.where)
        return (divisions or Fraction(0)) / self.divisions

    def note_length(self, note: Element) -> Fraction:
        """Return how far a note moves on: nothing for the others of a chord, and for graces."""
        if note.find("chord") is not None or note.find("grace") is not None:
            return Fraction(0)
        return self.length(note)

    # --- key, meter, transposition ---

    def attributes(self, element: Element) -> None:
        """Read divisions, key, transposition, meter and repeated bars."""
        divisions = self.gate.bounded(element.findtext("divisions"), "divisions", self.where)
        self.divisions = divisions or self.divisions
        key, transpose, time = (element.find(tag) for tag in ("key", "transpose", "time"))
        if key is not None:
            self.read_key(key)
        if transpose is not None:
            self.read_transposition(transpose)
        if key is not None or transpose is not None:
            self.set_key()
        if time is not None:
            self.meter = self.bar.meter = self.read_meter(time)
        for sign in element.iterfind("measure-style/measure-repeat"):
            begins = sign.get("type") == "start"
            bars = self.gate.whole(sign.text or "1", "repeated measures", self.where)
            self.repeats_bars = (bars or 0) if begins else 0

    def read_key(self, element: Element) -> None:
        """Read a key signature; one that is no usual key is left out."""
        fifths = self.gate.whole(element.findtext("fifths"), "fifths", self.where)
        mode = _MODES.get((element.findtext("mode") or "major").strip().casefold(), Mode.MAJOR)
        if fifths is None:
            self.gate.report("a key signature that is no usual key is left out", self.where)
        else:
            self.signature = (fifths, mode)

    def read_transposition(self, element: Element) -> None:
        """Read how the part sounds: the interval in fifths, by its steps where they are told."""
        chromatic = self.gate.whole(element.findtext("chromatic"), "chromatic steps", self.where)
        diatonic = self.gate.whole(element.findtext("diatonic"), "diatonic steps", self.where)
        semitones = chromatic or 0
        exact = 7 * semitones - 12 * (diatonic or 0)
        is_usual = diatonic is not None and abs(exact) <= MOST_ACCIDENTALS
        self.transposition = exact if is_usual else semitones_to_fifths(semitones)

    def set_key(self) -> None:
        """Note the key that sounds, where it changes."""
        if self.signature is None:
            return
        fifths, mode = self.signature
        key = Key(SpelledPitch(fifths - SIGNATURE_OFFSETS[mode] + self.shift), mode)
        if key.name != self.key:
            self.bar.key = self.key = key.name

    @property
    def shift(self) -> int:
        """The interval from the written chord to the sounding one, in fifths.

        It is taken enharmonically where the key would have more than seven accidentals.
        """
        fifths = (self.signature[0] if self.signature else 0) + self.transposition
        if fifths > MOST_ACCIDENTALS:
            return self.transposition - 12
        return self.transposition + (12 if fifths < -MOST_ACCIDENTALS else 0)

    def read_meter(self, time: Element) -> Meter:
        """Return a meter; sums (3+2) are added up, one that no chart has keeps the one before."""
        if time.find("senza-misura") is not None:
            self.gate.report("bars without a meter are counted in the meter before", self.where)
            return self.meter
        total = Fraction(0)
        finest = 1
        pairs = list(zip(time.findall("beats"), time.findall("beat-type"), strict=False))
        for beats, unit in pairs:
            words = (beats.text or "").split("+")
            counts = [self.gate.whole(word, "beats", self.where) for word in words]
            beat_type = self.gate.whole(unit.text, "beat type", self.where)
            if not beat_type or not all(counts):
                return self.odd_meter(time)
            total += Fraction(sum(count or 0 for count in counts), beat_type)
            finest = max(finest, beat_type)
        if not pairs:
            return self.meter
        return meter_of(total * finest, finest) or self.odd_meter(time)

    def odd_meter(self, time: Element) -> Meter:
        """Return the meter before, and tell of one that cannot be said."""
        name = f"{time.findtext('beats')}/{time.findtext('beat-type')}"
        self.gate.report(f"the meter {shortened(name)!r} is left out", self.where)
        return self.meter

    # --- words, tempo, signs ---

    def direction(self, element: Element) -> None:
        """Read a section's name, a word to the band, a tempo and signs of jumps."""
        for words in element.findall("direction-type/words"):
            self.bar.word = self.bar.word or BAND_WORDS.get((words.text or "").strip().casefold())
        for mark in element.iter("rehearsal"):
            self.bar.section = one_line(mark.text or "") or self.bar.section
        for mark in element.iter("metronome"):
            unit = _BEAT_UNITS.get((mark.findtext("beat-unit") or "").strip())
            dotted = Fraction(3, 2) if mark.find("beat-unit-dot") is not None else Fraction(1)
            if unit:
                self.tempo(mark.findtext("per-minute"), unit * dotted)
        for sound in element.iter("sound"):
            self.tempo(sound.get("tempo"))
            self.swing(sound)
        read_signs(element, self.bar.signs)

    def sound(self, element: Element) -> None:
        """Read a sound that stands alone."""
        if element.find("offset") is None:
            self.tempo(element.get("tempo"))
            self.swing(element)
        read_sound(element, self.bar.signs)

    def tempo(self, text: str | None, unit: Fraction = Fraction(1)) -> None:
        """Read a tempo in a unit's notes a minute; the first one of a bar counts."""
        per_minute = self.gate.bounded(text, "tempo", self.where)
        if per_minute and self.bar.qpm is None:
            self.bar.qpm = self.gate.tempo(per_minute * unit, self.where)

    def swing(self, sound: Element) -> None:
        """Read how pairs are swung from here on, as a chart says it."""
        if (swing := sound.find("swing")) is not None:
            self.bar.swing = read_swing(swing, self.gate, self.where) or self.bar.swing

    def barline(self, element: Element) -> None:
        """Read repeats and endings."""
        ending = element.find("ending")
        if ending is not None and ending.get("type") == "start":
            words = ending.get("number", "").replace(",", " ").replace(".", " ").split()
            numbers = [self.gate.whole(word, "ending", self.where) for word in words[:64]]
            self.endings = tuple(dict.fromkeys(number for number in numbers if number))
            self.bar.endings = self.endings
        if element.find("segno") is not None and self.bar.signs.segno is None:
            self.bar.signs.segno = ""
        repeat = element.find("repeat")
        if repeat is None:
            return
        if repeat.get("direction") == "forward":
            self.bar.opens_repeat = True
        else:
            self.bar.closes_repeat = True
            times = self.gate.whole(repeat.get("times"), "passes", self.where)
            self.bar.passes = max(2, times or 2)

    def close_ending(self, measure: Element) -> None:
        """End an ending after the measure that says so."""
        kinds = [element.get("type") for element in measure.findall("barline/ending")]
        if any(kind in ("stop", "discontinue") for kind in kinds):
            self.endings = ()

    # --- chords ---

    def harmony(self, element: Element) -> None:
        offset = self.gate.bounded(element.findtext("offset"), "offset", self.where)
        at = max(Fraction(0), fine_place(self.at + (offset or 0) / self.divisions))
        kind = element.find("kind")
        root = element.find("root")
        if kind is not None and (kind.text or "").strip() == "none":
            self.bar.add_chord(at, NO_CHORD, self.gate)
        elif root is None or kind is None:
            self.gate.report("a chord that is given by its function is left out", self.where)
        else:
            symbol = self.symbol(element, root, kind)
            if symbol is None:
                self.gate.report("a chord that cannot be read is left out", self.where)
            else:
                self.bar.add_chord(at, symbol, self.gate)

    def symbol(self, element: Element, root: Element, kind: Element) -> str | None:
        """Return the symbol of a chord as it sounds, None where it cannot be read."""
        kind_text = (kind.text or "").strip()
        known = KIND_NAMES.get(kind_text.casefold())
        low, bass = self.spelled(root, "root"), element.find("bass")
        if low is None:
            return None
        printed = shortened(kind.get("text") or "")
        slash = self.spelled(bass, "bass") if bass is not None else None
        meant = WrittenKind(known or "major", tuple(self.degrees(element)))
        inversion = self.gate.whole(element.findtext("inversion"), "inversion", self.where)
        say = chord_symbol if known else other_symbol
        try:
            symbol = say(low, meant, printed, slash)
        except ValueError:
            return None
        symbol = symbol if slash else inverted_symbol(symbol, inversion or 0)
        if known is None:
            message = f"the chord kind {shortened(kind_text)!r} is read as {symbol}"
            self.gate.report(message, self.where)
        return symbol

    def spelled(self, element: Element, tag: str) -> SpelledPitch | None:
        """Return the sounding note of a root or a bass, None where there is none."""
        step = (element.findtext(f"{tag}-step") or "").strip()
        if len(step) != 1 or step not in FIFTHS_ORDER:
            return None
        alter = self.gate.whole(element.findtext(f"{tag}-alter"), "alteration", self.where)
        written = SpelledPitch(FIFTHS_ORDER.index(step) - 1 + 7 * (alter or 0))
        sounding = written.up(self.shift)
        return sounding if abs(sounding.accidental) <= MOST_TRANSPOSED else sounding.simplified()

    def degrees(self, element: Element) -> Iterator[KindDegree]:
        for degree in element.findall("degree"):
            value = self.gate.whole(degree.findtext("degree-value"), "degree", self.where)
            alter = self.gate.whole(degree.findtext("degree-alter"), "alteration", self.where)
            if value:
                kind = (degree.findtext("degree-type") or "add").strip()
                yield KindDegree(value, alter or 0, kind)
