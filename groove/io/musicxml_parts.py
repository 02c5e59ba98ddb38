"""Which part of a MusicXML file is its bass line: by name, instrument, tab staff, clef and range.

Elements and attributes are those of MusicXML 4.0.
"""

import re
from collections.abc import Iterator, Sequence
from statistics import fmean
from xml.etree.ElementTree import Element

from msgspec import Struct

from groove.errors import OptionError, joined_hints, nearest_hint
from groove.io.gate import Gate, one_line, shortened
from groove.naming import OUT_WORDS
from groove.theory.general_midi import BASS_PROGRAMS
from groove.theory.pitch import DEGREE_SEMITONES, pitch_name

NO_LINE = "none"
BASS_NAME = re.compile(r"bass|basso\b|baixo\b|bajo\b", re.IGNORECASE)
NO_BASS = re.compile(
    r"drum|clarinet|trombone|bassoon|flute|sax|oboe|tuba|horn|recorder", re.IGNORECASE
)
HIGHEST_MEAN = 55
"""A part whose mean lies above G3 is no bass line by its clef alone; common practice, no source."""
HIGHEST_STRINGS = (40, 60)
"""The lowest and the highest string of a bass's tab at most, written an octave up: E2, C4."""
STEPS = dict(zip("CDEFGAB", DEGREE_SEMITONES, strict=True))
_MOST_SHOWN = 12


class ScorePart(Struct, frozen=True, kw_only=True):
    """What a part says of itself: its number in the file, its name, and how it sounds.

    ``mean_pitch`` is 0 where it has no notes.
    """

    number: int
    element: Element
    name: str
    is_named: bool
    has_low_clef: bool
    mean_pitch: float

    @property
    def words(self) -> str:
        """The part as it is named in messages: ``2 Bass``."""
        return f"{self.number} {self.name}".strip()

    @property
    def why(self) -> str:
        """What speaks for its being the bass, in words."""
        reasons = ["a bass by name, instrument or strings"] if self.is_named else []
        reasons += ["in the bass clef"] if self.has_low_clef else []
        return ", ".join([*reasons, f"mean {pitch_name(round(self.mean_pitch))}"])


def bass_part(root: Element, gate: Gate, wanted: str) -> Element | None:
    """Return the part that is the bass line, None where there is none.

    ``wanted`` is a part's number or name, ``none``, or empty to choose it (see ``likely_bass``).
    What was taken is told.  Raises OptionError for a part that is not there.
    """
    if wanted.casefold() in OUT_WORDS:
        return None
    parts = [facts for facts in score_parts(root, gate) if facts.mean_pitch]
    if wanted:
        return wanted_part(parts, wanted, gate.source, "--line", (NO_LINE,)).element
    taken = likely_bass(parts)
    if taken is None:
        return None
    others = "" if is_sure(taken, parts) else others_of(taken, parts)
    more = f"; --line takes another, or none: {others}" if others else ""
    gate.report(f"the bass line is that of part {taken.words}{more}")
    return taken.element


def likely_bass(parts: Sequence[ScorePart]) -> ScorePart | None:
    """Return the part that is the bass line, of those with notes; None where none is like one.

    It is the one of that name, instrument or tab staff, else one with a bass clef and a low range,
    the lowest of several.
    """
    named = [facts for facts in parts if facts.is_named]
    low = [facts for facts in parts if facts.has_low_clef and facts.mean_pitch < HIGHEST_MEAN]
    return min(named or low, key=lambda facts: facts.mean_pitch, default=None)


def is_sure(taken: ScorePart, parts: Sequence[ScorePart]) -> bool:
    """Return whether no other part could be meant."""
    return len(parts) == 1 or (taken.is_named and sum(facts.is_named for facts in parts) == 1)


def others_of(taken: ScorePart, parts: Sequence[ScorePart]) -> str:
    """Return the other parts as they are named in messages, the first of many."""
    return ", ".join([facts.words for facts in parts if facts is not taken][:_MOST_SHOWN])


def wanted_part(
    parts: Sequence[ScorePart], wanted: str, source: str, option: str, besides: Sequence[str] = ()
) -> ScorePart:
    """Return the part of a number or a name.

    Raises OptionError where there is none, which names the ``option`` that asked for it, the parts
    and what else it takes.
    """
    folded = wanted.strip().casefold()
    for facts in parts:
        if folded in (str(facts.number), facts.name.casefold()):
            return facts
    near = [facts for facts in parts if folded in facts.name.casefold()]
    if len(near) == 1:
        return near[0]
    names = [facts.words for facts in parts]
    hint = joined_hints(
        nearest_hint(wanted, [facts.name for facts in parts]),
        f"expected one of: {', '.join([*names[:_MOST_SHOWN], *besides])}",
    )
    raise OptionError(
        f"{source} has no part with notes for {option} {shortened(wanted)!r}", hint=hint
    )


def score_parts(root: Element, gate: Gate) -> Iterator[ScorePart]:
    """Yield what each part says of itself."""
    listed = {each.get("id"): each for each in root.findall("part-list/score-part")}
    for number, part in enumerate(root.findall("part"), start=1):
        entry = listed.get(part.get("id"))
        names = [] if entry is None else [each.text or "" for each in _named(entry)]
        programs = (
            set() if entry is None else {program(each) for each in entry.iter("midi-program")}
        )
        clefs = [
            clef.findtext("sign", "").strip() for clef in part.iterfind("measure/attributes/clef")
        ]
        staves = {clef.get("number", "1") for clef in part.iterfind("measure/attributes/clef")}
        is_grand = len(staves) > 1 and "TAB" not in clefs
        is_bass = any(BASS_NAME.search(name) and not NO_BASS.search(name) for name in names)
        tuned = tab_tuning(part, gate)
        has_strings = tuned is not None and _is_bass_strung(tuned)
        yield ScorePart(
            number=number,
            element=part,
            name=shortened(one_line(names[0])) if names else "",
            is_named=is_bass or bool(programs & set(BASS_PROGRAMS)) or has_strings,
            has_low_clef=clefs[:1] == ["F"] and not is_grand,
            mean_pitch=_mean_pitch(part),
        )


def _is_bass_strung(strings: Sequence[int]) -> bool:
    """Return whether open strings, at the octave of the sound or of the page, are a bass's."""
    lowest, highest = HIGHEST_STRINGS
    return strings[0] <= lowest and strings[-1] <= highest


def _named(entry: Element) -> Iterator[Element]:
    """Yield a part's names: its own first, then those of its instruments."""
    yield from entry.findall("part-name")
    yield from entry.findall("score-instrument/instrument-name")


def program(element: Element) -> int:
    """Return a General MIDI program counted from 0, -1 for none; MusicXML counts from 1."""
    text = (element.text or "").strip()
    return int(text) - 1 if text.isdigit() and len(text) < 4 else -1


def _mean_pitch(part: Element) -> float:
    """Return the mean of a part's pitches as they sound, 0 where it has none."""
    shift = 0
    pitches = []
    for element in part.iterfind("measure/*"):
        if element.tag == "attributes" and element.find("transpose") is not None:
            shift = semitones_up(element)
        elif element.tag == "note" and (found := written_pitch(element)) is not None:
            pitches.append(found + shift)
    return fmean(pitches) if pitches else 0.0


def semitones_up(attributes: Element) -> int:
    """Return how far a part sounds above what is written; 0 for what cannot be read."""
    texts = [
        attributes.findtext(f"transpose/{name}", "0") for name in ("chromatic", "octave-change")
    ]
    found = [int(text) if re.fullmatch(r"\s*[+-]?[0-9]{1,2}\s*", text) else 0 for text in texts]
    return found[0] + 12 * found[1]


def written_pitch(note: Element) -> int | None:
    """Return the MIDI number of a written pitch, None for a rest or what is none."""
    pitch = note.find("pitch")
    if pitch is None:
        return None
    step = pitch.findtext("step", "").strip()
    octave = pitch.findtext("octave", "").strip()
    alter = pitch.findtext("alter", "0").strip()
    if step not in STEPS or not re.fullmatch("[0-9]", octave):
        return None
    whole = int(alter) if re.fullmatch("[+-]?[0-2]", alter) else 0
    return 12 * (int(octave) + 1) + STEPS[step] + whole


def tab_tuning(part: Element, gate: Gate) -> tuple[int, ...] | None:
    """Return the open strings of a part's tab staff as written, lowest first; None for none."""
    for details in part.iterfind("measure/attributes/staff-details"):
        strings = []
        for line in details.findall("staff-tuning"):
            step = line.findtext("tuning-step", "").strip()
            octave = gate.whole(line.findtext("tuning-octave"), "octave")
            alter = gate.whole(line.findtext("tuning-alter"), "alteration")
            if step in STEPS and octave is not None:
                strings.append(12 * (octave + 1) + STEPS[step] + (alter or 0))
        if 3 <= len(strings) <= 8 and strings == sorted(set(strings)):
            return tuple(strings)
    return None
