"""Charts from MusicXML: chord symbols, meters, keys, repeats, endings, sections, tempo, band words.

The melody is not read.  A file of ours carries its chart, which is taken as long as the bars and
chords of the file still say the same.  Files come from anywhere: entities and references to other
files are refused (defusedxml), and of a compressed file only what its container names is
unpacked, up to a limit.
"""

import io
import zipfile
from collections.abc import Iterator
from fractions import Fraction
from typing import Any
from xml.etree.ElementTree import Element, ParseError

from groove.chart.form import unroll
from groove.chart.model import Song
from groove.chart.parse import parse_chart
from groove.errors import ChartError, SourcePlace
from groove.events import BandWord
from groove.io.foreign import NO_CHORD, ForeignBar, ForeignSong, foreign_to_song
from groove.sheet.kinds import KINDS, Kind, KindDegree, chord_symbol
from groove.sheet.musicxml import CHART_FIELD
from groove.theory.keys import SIGNATURE_OFFSETS, Key, Mode
from groove.theory.pitch import FIFTHS_ORDER, SpelledPitch
from groove.timing import Meter

MOST_BYTES = 50_000_000
MOST_FILES = 1000
CONTAINER = "META-INF/container.xml"
ZIP_MAGIC = b"PK\x03\x04"
DEFAULT_METER = Meter(4, 4)
MODES = {mode.value: mode for mode in Mode} | {"ionian": Mode.MAJOR, "aeolian": Mode.MINOR}
BAND_WORDS = {word.value: word for word in BandWord}
KIND_NAMES = {name.casefold(): name for name in KINDS} | {"minor-major": "major-minor"}
"""Kinds whatever their case, and a name that some programs write for another."""
BEAT_UNITS = {"whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1)}
BEAT_UNITS |= {"eighth": Fraction(1, 2), "16th": Fraction(1, 4)}


def song_from_musicxml(data: bytes, source: str = "score") -> Song:
    """Return the song of a MusicXML file, plain or compressed (.mxl).

    Raises ChartError, with the bar where there is one, for what cannot be read.
    """
    root = parsed(unpacked(data, source) if data[:4] == ZIP_MAGIC else data, source)
    if root.tag != "score-partwise":
        raise refused(f"found <{root.tag}>, expected <score-partwise>", source)
    part = chord_part(root, source)
    foreign = PartReader(source, title_of(root)).read(part)
    if not foreign.bars:
        raise refused("there are no measures", source)
    song = foreign_to_song(foreign, source)
    return own_chart(root, song, source) or song


def refused(message: str, source: str, *, hint: str = "") -> ChartError:
    """Return the error for a file as a whole."""
    place = SourcePlace(source=source, line=1, column=1, text="")
    return ChartError(message, place=place, hint=hint)


# --- files ------------------------------------------------------------------------------------


def parsed(data: bytes, source: str) -> Element:
    """Return the root of an XML text.  Raises ChartError for hostile or broken XML."""
    from defusedxml import DefusedXmlException  # type: ignore[import-untyped]
    from defusedxml.ElementTree import fromstring  # type: ignore[import-untyped]

    if len(data) > MOST_BYTES:
        raise refused(f"the file is larger than {MOST_BYTES // 1_000_000} MB", source)
    try:
        root: Element = fromstring(data)
    except DefusedXmlException as error:
        raise refused(
            f"the file declares entities or other files ({type(error).__name__})",
            source,
            hint="expected plain MusicXML",
        ) from None
    except (ParseError, ValueError, LookupError) as error:
        line, column = getattr(error, "position", (1, 0))
        text = data.splitlines()[line - 1].decode("utf-8", "replace") if data.strip() else ""
        place = SourcePlace(source=source, line=line, column=column + 1, text=text)
        raise ChartError(
            f"not well-formed XML: {error}", place=place, hint="expected MusicXML"
        ) from None
    return root


def unpacked(data: bytes, source: str) -> bytes:
    """Return the score in a compressed file.  Nothing is written to disk."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if len(archive.infolist()) > MOST_FILES:
                raise refused(f"the archive has more than {MOST_FILES} files", source)
            return member(archive, score_name(archive, source), source)
    except (zipfile.BadZipFile, KeyError, RuntimeError, NotImplementedError, EOFError) as error:
        raise refused(f"not a readable .mxl: {error}", source) from None


def score_name(archive: zipfile.ZipFile, source: str) -> str:
    """Return the file that the container names first."""
    container = parsed(member(archive, CONTAINER, source), source)
    for element in container.iter():
        if element.tag.endswith("rootfile"):
            name = element.get("full-path", "")
            if name.startswith(("/", "\\")) or ".." in name.split("/") or ":" in name:
                raise refused(f"the container points outside the archive: {name!r}", source)
            return name
    raise refused("the container names no score", source)


def member(archive: zipfile.ZipFile, name: str, source: str) -> bytes:
    """Return one file of an archive, never more than the limit whatever its head says."""
    with archive.open(name) as stream:
        data = stream.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise refused(f"{name} unpacks to more than {MOST_BYTES // 1_000_000} MB", source)
    return data


def own_chart(root: Element, song: Song, source: str) -> Song | None:
    """Return the chart that a file of ours carries, if its music still says the same."""
    for element in root.iter("miscellaneous-field"):
        if element.get("name") == CHART_FIELD and element.text:
            try:
                own = parse_chart(element.text, source=source)
            except ChartError:
                return None
            return own if harmony_of(own) == harmony_of(song) else None
    return None


def harmony_of(song: Song) -> list[Any]:
    """Return what is played: meters, words to the band and chords, bar by bar, pickup apart."""
    return [
        (
            bar.meter,
            bar.word,
            [
                (
                    span.start_quarters,
                    span.chord and (span.chord.root.pitch_class, span.chord.pitch_classes),
                    span.chord and span.chord.bass_note.pitch_class,
                )
                for index, span in enumerate(bar.chords)
                if index == 0 or span.chord != bar.chords[index - 1].chord
            ],
        )
        for bar in unroll(song)
        if not bar.is_pickup
    ]


# --- the part ---------------------------------------------------------------------------------


def title_of(root: Element) -> str:
    """Return the title of a work."""
    for path in ("work/work-title", "movement-title"):
        text = (root.findtext(path) or "").strip()
        if text:
            return text
    return ""


def chord_part(root: Element, source: str) -> Element:
    """Return the part with the most chord symbols, the first one among equals."""
    parts = root.findall("part")
    if not parts:
        raise refused("there is no part", source)
    return max(parts, key=lambda part: len(part.findall("measure/harmony")))


class PartReader:
    """Reads one part, measure by measure."""

    def __init__(self, source: str, title: str) -> None:
        """Begin before the first measure."""
        self.source = source
        self.song = ForeignSong(title=title)
        self.meter = DEFAULT_METER
        self.divisions = Fraction(1)
        self.key = ""
        self.endings: tuple[int, ...] = ()
        self.bar = ForeignBar(meter=DEFAULT_METER)

    def read(self, part: Element) -> ForeignSong:
        """Return everything that the part says."""
        pending = ForeignBar(meter=DEFAULT_METER)
        measures = part.findall("measure")
        for index, measure in enumerate(measures):
            length = self.measure(measure)
            short = 0 < length < self.meter.bar_quarters
            if index == 0 and short and len(measures) > 1:
                self.song.pickup_quarters = length
                pending = self.bar
                if self.bar.chords:
                    self.song.notices.append("chords in the pickup are left out")
                continue
            if not self.song.bars:
                self.bar.key = self.bar.key or pending.key
                self.bar.qpm = self.bar.qpm or pending.qpm
                self.bar.section = self.bar.section or pending.section
            self.song.bars.append(self.bar)
        return self.song

    def measure(self, measure: Element) -> Fraction:
        """Read a measure into ``self.bar``; return its length in quarters."""
        self.bar = ForeignBar(meter=self.meter)
        at = longest = Fraction(0)
        for element in measure:
            if element.tag == "note":
                at += self.note_length(element)
            elif element.tag == "backup":
                at -= self.length(element)
            elif element.tag == "forward":
                at += self.length(element)
            elif element.tag == "harmony":
                self.harmony(element, at, measure)
            else:
                self.other(element, measure)
            longest = max(longest, at)
        if self.endings:
            self.bar.endings = self.bar.endings or self.endings
        self.close_ending(measure)
        return longest

    def length(self, element: Element) -> Fraction:
        """Return an element's duration in quarters."""
        return number(element.findtext("duration")) / self.divisions

    def note_length(self, note: Element) -> Fraction:
        """Return how far a note moves on: nothing for the others of a chord, and for graces."""
        if note.find("chord") is not None or note.find("grace") is not None:
            return Fraction(0)
        return self.length(note)

    def other(self, element: Element, measure: Element) -> None:
        """Read attributes, directions, sounds and bar lines."""
        if element.tag == "attributes":
            self.attributes(element, measure)
        elif element.tag == "direction":
            self.direction(element)
        elif element.tag == "sound" and element.find("offset") is None:
            self.tempo(element.get("tempo"))
        elif element.tag == "barline":
            self.barline(element)

    def attributes(self, element: Element, measure: Element) -> None:
        """Read divisions, key and meter."""
        divisions = number(element.findtext("divisions"))
        if divisions > 0:
            self.divisions = divisions
        key = element.find("key")
        if key is not None:
            self.read_key(key)
        time = element.find("time")
        if time is not None:
            self.meter = self.read_meter(time, measure)
            self.bar.meter = self.meter

    def read_key(self, element: Element) -> None:
        """Read a key signature; one that is no usual key is left out."""
        fifths = number(element.findtext("fifths"))
        mode = MODES.get((element.findtext("mode") or "major").strip().casefold(), Mode.MAJOR)
        if element.find("fifths") is None or not -7 <= fifths <= 7:
            self.song.notices.append("a key signature that is no usual key is left out")
            return
        name = Key(SpelledPitch(int(fifths) - SIGNATURE_OFFSETS[mode]), mode).name
        if name != self.key:
            self.bar.key = self.key = name

    def read_meter(self, time: Element, measure: Element) -> Meter:
        """Return a meter; sums (3+2) are added up, a free one keeps the meter before."""
        if time.find("senza-misura") is not None:
            self.song.notices.append("bars without a meter are counted in the meter before")
            return self.meter
        pairs = list(zip(time.findall("beats"), time.findall("beat-type"), strict=False))
        total = Fraction(0)
        finest = 1
        for beats, unit in pairs:
            count = sum((number(word) for word in (beats.text or "").split("+")), Fraction(0))
            beat_type = int(number(unit.text))
            if count <= 0 or beat_type not in (1, 2, 4, 8, 16, 32):
                raise self.error("a meter that cannot be read", measure)
            total += count / beat_type
            finest = max(finest, beat_type)
        if not pairs:
            return self.meter
        return Meter(int(total * finest), finest)

    def direction(self, element: Element) -> None:
        """Read a section's name, a word to the band and a tempo."""
        for words in element.findall("direction-type/words"):
            self.bar.word = self.bar.word or BAND_WORDS.get((words.text or "").strip().casefold())
        for mark in element.iter("rehearsal"):
            if (mark.text or "").strip():
                self.bar.section = (mark.text or "").strip()
        for mark in element.iter("metronome"):
            unit = BEAT_UNITS.get((mark.findtext("beat-unit") or "").strip())
            per_minute = number(mark.findtext("per-minute"))
            if unit and per_minute > 0:
                dotted = Fraction(3, 2) if mark.find("beat-unit-dot") is not None else Fraction(1)
                self.tempo(str(float(per_minute * unit * dotted)))
        for sound in element.iter("sound"):
            self.tempo(sound.get("tempo"))

    def tempo(self, text: str | None) -> None:
        """Read a tempo in quarters a minute; the first one of a bar counts."""
        qpm = float(number(text))
        if qpm > 0 and self.bar.qpm is None:
            self.bar.qpm = qpm

    def barline(self, element: Element) -> None:
        """Read repeats and endings."""
        ending = element.find("ending")
        if ending is not None and ending.get("type") == "start":
            words = (ending.get("number") or "").replace(",", " ").replace(".", " ").split()
            self.endings = tuple(int(word) for word in words if word.isdigit())
            self.bar.endings = self.endings
        repeat = element.find("repeat")
        if repeat is None:
            return
        if repeat.get("direction") == "forward":
            self.bar.opens_repeat = True
        else:
            self.bar.closes_repeat = True
            self.bar.passes = max(2, int(number(repeat.get("times"))))

    def close_ending(self, measure: Element) -> None:
        """End an ending after the measure that says so."""
        kinds = [element.get("type") for element in measure.findall("barline/ending")]
        if any(kind in ("stop", "discontinue") for kind in kinds):
            self.endings = ()

    def harmony(self, element: Element, at: Fraction, measure: Element) -> None:
        """Read a chord symbol at its place in the bar."""
        at += number(element.findtext("offset")) / self.divisions
        kinds = element.findall("kind")
        roots = element.findall("root")
        if kinds and (kinds[0].text or "").strip() == "none":
            self.bar.chords.append((max(at, Fraction(0)), NO_CHORD))
            return
        if not roots or not kinds:
            self.song.notices.append("a chord that is given by its function is left out")
            return
        kind_text = (kinds[0].text or "").strip()
        known = KIND_NAMES.get(kind_text.casefold())
        kind = Kind(known or "major", tuple(degrees(element)))
        root, bass = spelled(roots[0], "root"), spelled(element.find("bass"), "bass")
        try:
            assert root is not None
            symbol = chord_symbol(root, kind, kinds[0].get("text") or "", bass)
        except (AssertionError, ValueError):
            raise self.error("a chord that cannot be read", measure) from None
        if known is None:
            self.song.notices.append(f"the chord kind {kind_text!r} is read as {symbol}")
        self.bar.chords.append((max(at, Fraction(0)), symbol))

    def error(self, message: str, measure: Element) -> ChartError:
        """Return an error in a measure."""
        return refused(f"measure {measure.get('number', '?')}: {message}", self.source)


def number(text: str | None) -> Fraction:
    """Return a number of the file, 0 where there is none."""
    try:
        return Fraction((text or "0").strip())
    except (ValueError, ZeroDivisionError):
        return Fraction(0)


def spelled(element: Element | None, tag: str) -> SpelledPitch | None:
    """Return the note of a root or a bass, None where there is none."""
    step = (element.findtext(f"{tag}-step") or "").strip() if element is not None else ""
    if element is None or step not in FIFTHS_ORDER or not step:
        return None
    alter = int(number(element.findtext(f"{tag}-alter")))
    return SpelledPitch(FIFTHS_ORDER.index(step) - 1 + 7 * alter)


def degrees(element: Element) -> Iterator[KindDegree]:
    """Yield the degrees of a chord."""
    for degree in element.findall("degree"):
        value = int(number(degree.findtext("degree-value")))
        kind = (degree.findtext("degree-type") or "add").strip()
        if 1 <= value <= 13:
            yield KindDegree(value, int(number(degree.findtext("degree-alter"))), kind)
