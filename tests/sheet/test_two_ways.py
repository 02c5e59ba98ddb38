"""PDF and MusicXML tell the same: the two files of a part sign by sign, and both as drawn.

The names of signs are those of the standards, written out here by hand: MusicXML 4.0
(``accidental-value``, ``notehead-value``, ``bar-style``, ``note-type-value``) and MEI 5
(``data.ACCIDENTAL.WRITTEN``, ``data.HEADSHAPE``, ``data.BARRENDITION``, ``data.DURATION``).  The
judge of what is drawn is verovio, which reads both.
"""

import re
from collections import Counter
from functools import lru_cache
from typing import Any
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest
import verovio

from groove.cells.model import Library
from groove.events import Part
from groove.io.engrave import layout, sheet_svg
from groove.io.library import load_library
from groove.sheet.build import build_score
from groove.sheet.mei import mei_text
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Size
from groove.theory.chords import parse_chord
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import REPEATS, example, played

M = "{http://www.music-encoding.org/ns/mei}"
S = "{http://www.w3.org/2000/svg}"
ID = "{http://www.w3.org/XML/1998/namespace}id"
OWN = "repeats"
PARTS = (Part.BASS, Part.DRUMS, Part.KEYS)
SIGNS = """
title: Every Sign
tempo: 104.5
key: Eb
pickup: 1
verse:
  dynamics: p to f
  cue: brushes until the second line
  |: Eb | (kicks 2+) Ab7 / Bb7 / | Cm | C7sus4 :| x3
  | (3/4) Fm | F#dim7 |
chorus:
  swing: 60% eighths
  tempo: 84 to 60
  key: E
  |: E | B7b9/D# |1. C#m | A6/9 :|2. A | (stop) N.C. |
bridge:
  meter: 6/8
  | (mp) (dim) E | <A |
form: verse, chorus, verse, bridge
"""

ACCIDENTALS = {"sharp": "s", "flat": "f", "natural": "n", "double-sharp": "x", "flat-flat": "ff"}
HEADS = {"x": "x", "diamond": "diamond", "triangle": "+"}
LENGTHS = {"whole": 1, "half": 2, "quarter": 4, "eighth": 8, "16th": 16, "32nd": 32, "64th": 64}
STYLES = {"light-light": "dbl", "light-heavy": "end", "heavy-light": "rptstart"}


@lru_cache(maxsize=64)
def both(name: str, part: Part) -> tuple[Element, Element, str, str]:
    """Return a part as MEI and as MusicXML, as trees and as texts, with all fingers and letters."""
    library = load_library()
    texts = {OWN: REPEATS, "signs": SIGNS}
    song, performance, tuning = (
        played(texts[name], library) if name in texts else example(name, library)
    )
    score = build_score(performance, song, part=part, tuning=tuning)
    options = SheetOptions(size=Size.PHONE, part=part, fingers=True, pluck=True)
    mei = mei_text(score, options, line_units=1e6, title=True)
    xml = musicxml_text(score, song, fingers=True, pluck=True)
    return ElementTree.fromstring(mei), ElementTree.fromstring(xml), mei, xml


SIGNED = (
    ("button-drawer", Part.BASS), ("glass-stairs", Part.BASS), ("glass-stairs", Part.DRUMS),
    ("slow-ferry", Part.KEYS), ("two-clocks", Part.DRUMS), (OWN, Part.BASS),
    *(("signs", part) for part in PARTS),
)  # fmt: skip
"""Charts that have among them every element and every value of the two files; what others have
besides are names of chords and tempi, told by other tests (``test_musicxml_writing``).  Signs of a
bar stand in every part; of each part there are tuplets, ties, accidentals and voices."""


# --- the two files, sign by sign --------------------------------------------------------------


def mei_notes(mei: Element) -> dict[str, tuple[object, ...]]:
    """Return what MEI says of every note of the staves: length, tie, accidental, head, place."""
    found: dict[str, tuple[object, ...]] = {}
    values = [v for tag in ("note", "chord") for v in mei.iter(M + tag) if v.get("dur")]
    for value in values:
        for note in [value] if value.tag == M + "note" else value:
            name = note.get(ID, "")
            pitch = (note.get("pname", "").upper(), note.get("oct"), note.get("loc"))
            length = (int(value.get("dur", 0)), int(value.get("dots", 0)))
            signs = (note.get("accid"), note.get("head.shape"), note.get("tie"))
            found[name] = (*length, *signs, pitch[:2] if not pitch[2] else place(int(pitch[2])))
    return found


def place(loc: int) -> tuple[str, str]:
    """Return a place on a staff as a note of the treble clef: line 0 is E4."""
    steps = 4 * 7 + "CDEFGAB".index("E") + loc
    return "CDEFGAB"[steps % 7], str(steps // 7)


def xml_notes(xml: Element) -> dict[str, tuple[object, ...]]:
    """Return the same of MusicXML."""
    ties = {(): None, ("start",): "i", ("stop", "start"): "m", ("stop",): "t"}
    found: dict[str, tuple[object, ...]] = {}
    for note in xml.iter("note"):
        name = note.get("id", "")
        if not name or name.startswith("tab-"):
            continue
        pitch = note.find("pitch")
        where = (
            (pitch.findtext("step"), pitch.findtext("octave"))
            if pitch is not None
            else (
                note.findtext("unpitched/display-step"),
                note.findtext("unpitched/display-octave"),
            )
        )
        found[name] = (
            LENGTHS[note.findtext("type", "")],
            len(note.findall("dot")),
            ACCIDENTALS.get(note.findtext("accidental", "")),
            HEADS.get(note.findtext("notehead", "")),
            ties[tuple(t.get("type", "") for t in note.findall("notations/tied"))],
            where,
        )
    return found


def check_every_note_has_the_same_signs(mei: Element, xml: Element) -> None:
    one, other = mei_notes(mei), xml_notes(xml)
    assert one == other
    assert len(one) > 10


def xml_beams(xml: Element) -> list[tuple[str, ...]]:
    """Return the notes under every beam; a chord's beams stand at its first note."""
    found: list[list[str]] = []
    groups: dict[str, list[str]] = {}
    word = ""
    for note in xml.iter("note"):
        if note.find("chord") is None:
            word = note.findtext("beam[@number='1']", "")
            if word == "begin":
                groups[note.findtext("voice", "")] = []
                found.append(groups[note.findtext("voice", "")])
        if word:
            groups[note.findtext("voice", "")].append(note.get("id", ""))
    return sorted(map(tuple, found))


def check_the_same_notes_are_beamed(mei: Element, xml: Element) -> None:
    beams = ([n.get(ID, "") for n in beam.iter(M + "note")] for beam in mei.iter(M + "beam"))
    assert sorted(tuple(group) for group in beams) == xml_beams(xml)


def check_tuplets_are_the_same(mei: Element, xml: Element) -> None:
    staff = [t for t in mei.iter(M + "tuplet") if t.find(f".//{M}tabGrp") is None]
    one = [(t.get("num"), t.get("numbase")) for t in staff]
    starts = [n for n in xml.iter("note") if n.find("notations/tuplet[@type='start']") is not None]
    ratio = "time-modification/actual-notes", "time-modification/normal-notes"
    assert one == [tuple(note.findtext(path) for path in ratio) for note in starts]


def check_articulations_slides_and_hands_are_the_same(
    mei: Element, xml: Element, part: Part
) -> None:
    """An accent is ``acc`` and ``accent``, an open hat ``open`` in both; a slide is a ``gliss``."""
    one: Counter[tuple[str, str]] = Counter()
    for value in (v for tag in ("note", "chord") for v in mei.iter(M + tag)):
        first = value if value.tag == M + "note" else value[0]
        one.update((first.get(ID, ""), sign) for sign in value.get("artic", "").split())
    for finger in mei.iter(M + "fing"):
        one[finger.get("startid", "")[1:], "".join(finger.itertext())] += 1
    for gliss in mei.iter(M + "gliss"):
        one.update((gliss.get(end, "")[1:], f"gliss {end}") for end in ("startid", "endid"))
    other: Counter[tuple[str, str]] = Counter()
    told = {"accent": "acc", "open": "open"}
    for note in xml.iter("note"):
        for sign in note.iterfind("notations/*/*"):
            if sign.tag in ("fingering", "pluck"):
                other[note.get("id", ""), sign.text or ""] += 1
            elif sign.tag in told:
                other[note.get("id", ""), told[sign.tag]] += 1
        for slide in note.iterfind("notations/slide"):
            end = {"start": "startid", "stop": "endid"}[slide.get("type", "")]
            other[note.get("id", ""), f"gliss {end}"] += 1
    assert one == other
    assert part is not Part.BASS or sum(one.values()) > 20


def check_the_tab_has_the_same_numbers(mei: Element, xml: Element) -> None:
    """What is held has no number on the page, and is hidden in the file."""
    one = {
        n.get(ID): (n.get("tab.course"), n.get("tab.fret"))
        for n in mei.iter(M + "note")
        if n.get("tab.fret")
    }
    shown = [
        note
        for note in xml.iter("note")
        if note.get("id", "").startswith("tab-") and note.get("print-object") != "no"
    ]
    where = "notations/technical/string", "notations/technical/fret"
    assert one == {note.get("id"): tuple(note.findtext(path) for path in where) for note in shown}
    hidden = [n for n in xml.iter("note") if n.get("id") and n.get("print-object") == "no"]
    assert all(n.find("tie[@type='stop']") is not None for n in hidden)
    assert len(one) > 10


def check_staves_keys_and_meters_are_the_same(mei: Element, xml: Element, part: Part) -> None:
    shapes = {"F": "F", "G": "G", "TAB": "TAB", "perc": "percussion"}
    one = [(shapes[c.get("shape", "")], c.get("line")) for c in mei.iter(M + "clef")]
    assert one == [(c.findtext("sign"), c.findtext("line")) for c in xml.iter("clef")]
    # A tuning is as it sounds in MEI, and as it is written, an octave up, in MusicXML.
    alters = {None: 0, "s": 1, "f": -1}
    tuning = [
        (c.get("pname", "").upper(), alters[c.get("accid")], int(c.get("oct", "0")) + 1)
        for c in mei.iter(M + "course")
    ]
    assert tuning == [
        (
            t.findtext("tuning-step"),
            int(t.findtext("tuning-alter", "0")),
            int(t.findtext("tuning-octave", "")),
        )
        for t in xml.iter("staff-tuning")
    ]
    assert len(tuning) == (4 if part is Part.BASS else 0)
    keys = [d.get("key.sig", "") for d in mei.iter(M + "scoreDef") if d.get("key.sig")]
    fifths = [int(k.findtext("fifths", "")) for k in xml.iter("key")]
    assert keys == [f"{abs(n)}{'s' if n > 0 else 'f'}" if n else "0" for n in fifths]
    first_staff = mei.iterfind(f".//{M}staffDef[@n='1']/{M}meterSig")
    meters = [(m.get("count"), m.get("unit")) for m in first_staff]
    assert meters == [(t.findtext("beats"), t.findtext("beat-type")) for t in xml.iter("time")]


def mei_bars(mei: Element) -> list[tuple[object, ...]]:
    """Return number, bar lines and words of every bar in MEI."""
    found: list[tuple[object, ...]] = []
    for bar in mei.iter(M + "measure"):
        words = [text.strip() for reh in bar.iter(M + "reh") for text in reh.itertext()]
        pieces = [word.strip("\u00a0= ") for text in words for word in text.split(", ")]
        pieces = [word for word in pieces if word and word not in ("♩", "♩.", "\U0001d15e")]
        symbols = [sounding("".join(harm.itertext())) for harm in bar.iter(M + "harm")]
        lines = bar.get("left"), bar.get("right")
        found.append((bar.get("n"), lines, sorted(pieces), symbols))
    return found


def xml_bars(xml: Element) -> list[tuple[object, ...]]:
    """Return the same of MusicXML, a chord symbol put together from its elements."""
    found: list[tuple[object, ...]] = []
    for bar in xml.iter("measure"):
        lines: dict[str, str | None] = {"left": None, "right": None}
        for line in bar.iter("barline"):
            style = STYLES.get(line.findtext("bar-style", ""))
            closes = line.find("repeat[@direction='backward']") is not None
            lines[line.get("location", "")] = "rptend" if closes else style
        directions = bar.iterfind("direction/direction-type/*")
        told = [e for e in directions if e.tag in ("rehearsal", "words", "metronome")]
        texts = [e.findtext("per-minute") or e.text or equation(e) for e in told]
        pieces = [word for text in texts for word in text.split(", ")]
        symbols = [sounding(symbol(harmony)) for harmony in bar.iter("harmony")]
        number = "0" if bar.get("implicit") else bar.get("text", bar.get("number"))
        found.append((number, (lines["left"], lines["right"]), sorted(pieces), symbols))
    return found


def equation(metronome: Element) -> str:
    """Return how MEI has an equation of notes: the pair, and what its long note is played as."""
    pair, *_ = metronome.findall("metronome-note")
    long = metronome.findall("metronome-note")[2]
    name = {"eighth": "♫", "16th": "♬"}[pair.findtext("metronome-type", "")]
    return f"{name}={'.' if long.find('metronome-dot') is not None else '3'}"


def sounding(symbol: str) -> object:
    """Return what a symbol means, however it is spelled: root, tones, bass."""
    if symbol == "N.C.":
        return symbol
    # SMuFL 1.4: U+EA64 figbassFlat, U+EA66 figbassSharp, as verovio sets signs in text.
    plain = symbol.translate(str.maketrans("♭♯\uea64\uea66", "b#b#"))
    chord = parse_chord(plain)
    return chord.root.name, sorted(chord.pitch_classes), chord.bass_note.name


def symbol(harmony: Element) -> str:
    """Return a chord symbol as it is read: root, text of the kind, degrees that show, bass."""
    kind = harmony.find("kind")
    text = kind.get("text", "") if kind is not None else ""
    for degree in harmony.findall("degree"):
        if degree.get("print-object") != "no":
            sign = {"1": "♯", "-1": "♭"}.get(degree.findtext("degree-alter", ""), "")
            word = degree.find("degree-type").get("text", "")  # type: ignore[union-attr]
            text += f"({word}{sign}{degree.findtext('degree-value')})"
    names = []
    for tag in ("root", "bass"):
        step = harmony.find(f"{tag}/{tag}-step")
        alter = {"1": "♯", "-1": "♭"}.get(harmony.findtext(f"{tag}/{tag}-alter", ""), "")
        names.append("" if step is None else step.get("text", step.text or "") + alter)
    return names[0] + text + (f"/{names[1]}" if names[1] else "")


def check_every_bar_has_the_same_lines_words_tempi_and_chords(mei: Element, xml: Element) -> None:
    one, other = mei_bars(mei), xml_bars(xml)
    assert one == other
    assert len(one) > 10
    endings = [e.get("n") for e in mei.iter(M + "ending")]
    assert endings == [e.text for e in xml.iter("ending") if e.get("type") == "start"]


def check_dynamics_and_hairpins_are_the_same(mei: Element, xml: Element) -> None:
    """MEI's hairpins say where they end as measures on, and a beat: here past the last."""
    forms = {"cres": "crescendo", "dim": "diminuendo"}
    one: list[tuple[int, str]] = []
    for index, bar in enumerate(mei.iter(M + "measure")):
        one += [(index, "".join(d.itertext())) for d in bar.iter(M + "dynam")]
        for pin in bar.iter(M + "hairpin"):
            bars, beat = pin.get("tstamp2", "").split("m+")
            assert beat in ("5", "4", "7")
            one += [(index, forms[pin.get("form", "")]), (index + int(bars), "stop")]
    other: list[tuple[int, str]] = []
    for index, bar in enumerate(xml.iter("measure")):
        other += [(index, sign.tag) for sign in bar.iterfind("direction/direction-type/dynamics/*")]
        wedges = bar.iterfind("direction/direction-type/wedge")
        other += [(index, wedge.get("type", "")) for wedge in wedges]
    assert sorted(one) == sorted(other)


@pytest.mark.parametrize(("name", "part"), SIGNED)
def test_the_two_files_tell_the_same(name: str, part: Part) -> None:
    """Made once: each of the checks above looks at the same two files."""
    mei, xml, _, text = both(name, part)
    assert schema_errors(text) == []
    check_every_note_has_the_same_signs(mei, xml)
    check_the_same_notes_are_beamed(mei, xml)
    check_tuplets_are_the_same(mei, xml)
    check_articulations_slides_and_hands_are_the_same(mei, xml, part)
    if part is Part.BASS:
        check_the_tab_has_the_same_numbers(mei, xml)
    check_staves_keys_and_meters_are_the_same(mei, xml, part)
    check_every_bar_has_the_same_lines_words_tempi_and_chords(mei, xml)
    check_dynamics_and_hairpins_are_the_same(mei, xml)


def test_every_sign_is_met_by_these_tests() -> None:
    """The charts above hold each sign of the two tables at least once."""
    files = [both("signs", part) for part in PARTS] + [both("button-drawer", Part.BASS)]
    styles = {e.text for _, xml, _, _ in files for e in xml.iter("bar-style")}
    assert styles >= {"light-light", "light-heavy", "heavy-light"}
    signs = {e.text for _, xml, _, _ in files for e in xml.iter("accidental")}
    assert signs >= {"sharp", "flat", "natural"}
    words = {word for mei, _, _, _ in files for bar in mei_bars(mei) for word in (*bar[2],)}  # type: ignore[misc]
    assert words >= {"104.5", "3×", "rit.", "stop", "second time", "kicks 2+"}
    wedges = [e.get("type") for _, xml, _, _ in files for e in xml.iter("wedge")]
    assert wedges.count("stop") >= 2
    assert sum(len(xml_beams(xml)) for _, xml, _, _ in files) > 200


# --- as drawn ---------------------------------------------------------------------------------


def drawn(text: str) -> list[Element]:
    """Return the pages that verovio draws of a file as it is, in one line."""
    toolkit = verovio.toolkit()
    settings = layout(SheetOptions(size=Size.PHONE), for_print=False)
    toolkit.setOptions({**settings, "breaks": "none", "pageWidth": 60000})
    assert toolkit.loadData(text)
    count = toolkit.getPageCount()
    return [ElementTree.fromstring(toolkit.renderToSVG(n)) for n in range(1, count + 1)]


def groups(pages: list[Element], kind: str) -> list[Any]:
    return [g for p in pages for g in p.iter(S + "g") if kind in (g.get("class") or "").split()]


def texts(pages: list[Element], kind: str) -> list[str]:
    return ["".join("".join(g.itertext()).split()) for g in groups(pages, kind)]


@pytest.mark.parametrize(
    ("name", "part"),
    [("signs", part) for part in PARTS],
)
def test_both_are_drawn_with_the_same_notes(name: str, part: Part) -> None:
    """Ids, beams, ties, chord symbols and tab numbers of either file, as verovio draws it.

    What it does not take from MusicXML is why MEI stays: plucking letters, and names of altered
    chords without their degrees again behind them.  What the MusicXML has more are the tab's ties.
    """
    _, _, mei, xml = both(name, part)
    one, other = drawn(mei), drawn(xml)
    ids, others = ({g.get("id") for g in groups(pages, "note")} for pages in (one, other))
    hidden = {name for name in others - ids if name.startswith("tab-") and "-held" in name}
    assert ids == others - hidden
    assert len(groups(one, "beam")) == len(groups(other, "beam"))
    # Each note that is held on the tab has its tie.
    assert len(groups(other, "tie")) == len(groups(one, "tie")) + len(hidden)
    numbers = {g.get("id"): "".join(g.itertext()).strip() for g in groups(one, "note")}
    copies = {g.get("id"): "".join(g.itertext()).strip() for g in groups(other, "note")}
    assert numbers == {name: text for name, text in copies.items() if name not in hidden}
    symbols = zip(texts(one, "harm"), texts(other, "harm"), strict=True)
    pairs = [(mine, theirs) for mine, theirs in symbols if mine != theirs]
    for mine, theirs in pairs:
        # What is not to be shown it shows all the same.
        hidden_shown = re.sub(r"\(.*?\)", "", theirs) == mine
        assert hidden_shown or sounding(theirs) == sounding(mine)
    fingers = Counter(text for text in texts(one, "fing") if text.isdigit())
    assert fingers == Counter(texts(other, "fing"))
    assert len(ids) > 20


def test_a_cowbell_has_a_triangle_on_the_page_too(library: Library) -> None:
    """A triangle for a cowbell (Weinberg 1998); verovio itself draws a plus, U+E0AF of SMuFL."""
    text = "title: x\ntempo: 176\nkey: C\nfeel: tumbao\na:\n  | C | F | G | C |\n"
    song, performance, _ = played(text, library)
    cowbells = [
        name
        for name, note in zip(performance.note_ids, performance.notes, strict=True)
        if note.part is Part.DRUMS and note.pitch == 56
    ]
    options = SheetOptions(part=Part.DRUMS, written_out=True)
    page = [ElementTree.fromstring(svg) for svg in sheet_svg(performance, song, options)]
    heads = {g.get("id"): g for g in groups(page, "note")}
    corners = [heads[name].findall(f".//{S}polygon") for name in cowbells]
    assert all(len(found) == 1 and len(found[0].get("points").split()) == 3 for found in corners)
    assert len(cowbells) >= 4
    score = build_score(performance, song, part=Part.DRUMS, written_out=True)
    xml = ElementTree.fromstring(musicxml_text(score, song))
    marked = [n.get("id") for n in xml.iter("note") if n.findtext("notehead") == "triangle"]
    assert set(cowbells) <= set(marked)
