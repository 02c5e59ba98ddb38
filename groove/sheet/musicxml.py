"""A part as MusicXML 4.0 (W3C Music Notation Community Group, 2021).

The bass is written an octave above its sound, with ``transpose`` saying so, and has a tab staff
under it that carries string and fret.  What MusicXML has no word for travels as text in
``miscellaneous-field``: the song's own chart among it, so that a file of ours can be read back
whole.
"""

import io
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import replace
from xml.etree.ElementTree import Element

from groove.chart.model import Song
from groove.chart.write import form_text, write_chart
from groove.events import Part
from groove.sheet.elements import add, element_text
from groove.sheet.line_print import LINE_FIELD, line_print
from groove.sheet.musicxml_notes import PART_ID, STAFF_INSTRUMENT, TAB_INSTRUMENT
from groove.sheet.musicxml_part import PartWriter
from groove.sheet.options import Staves
from groove.sheet.score import Score, Staff
from groove.theory.general_midi import DRUM_TABLE

DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
CHART_FIELD = "groove-chart"
SECTION_FEELS_FIELD = "section feels"
PART_NAMES = {Part.BASS: "Bass", Part.DRUMS: "Drums", Part.KEYS: "Keys", Part.CLICK: "Click"}
FIXED_ZIP_DATE = (2000, 1, 1, 0, 0, 0)
CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
    '<rootfile full-path="part.musicxml" '
    'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>\n'
)


def musicxml_text(
    score: Score,
    song: Song,
    *,
    fingers: bool = False,
    pluck: bool = False,
    staves: Staves = Staves.BOTH,
) -> str:
    """Return a part as an uncompressed MusicXML file.

    ``fingers`` and ``pluck`` add the fretting fingers and the letters of the plucking hand.
    ``staves`` are those of the bass: notation says strings and frets itself where it is alone.
    """
    score = replace(score, staves=_chosen_staves(score, staves))
    root = Element("score-partwise", version="4.0")
    add(add(root, "work"), "work-title", score.title)
    fields = _identification(root, song)
    drums = _used_drums(score)
    _part_list(root, score, drums)
    texts: list[str] = []
    measures = _written_measures(score, PartWriter(score, fingers=fingers, pluck=pluck), texts)
    printed = line_print(measures)
    if score.part is Part.BASS:
        add(fields, "miscellaneous-field", printed, name=LINE_FIELD)
    head, end, _ = element_text(root).rpartition("</score-partwise>")
    return "".join((DOCTYPE, head, f'<part id="{PART_ID}">', *texts, "</part>", end, "\n"))


def _written_measures(score: Score, writer: PartWriter, texts: list[str]) -> Iterator[Element]:
    """Yield the measures one by one, each written into ``texts``.

    A tree of all of them would fill the memory where a song is long.
    """
    for measure in score.measures:
        part = Element("part")
        writer.measure(part, measure)
        texts += map(element_text, part)
        yield from part


def _chosen_staves(score: Score, staves: Staves) -> tuple[Staff, ...]:
    """Return the staves that are written; a tab alone is written as high as its staff."""
    if score.tab is None or staves is Staves.BOTH:
        return score.staves
    if staves is Staves.NOTATION:
        return score.staves[:1]
    return (replace(score.tab, octaves_up=score.octaves_up),)


def mxl_bytes(musicxml: str) -> bytes:
    """Return a MusicXML text as a compressed file (.mxl), the same bytes every time."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        files = (("META-INF/container.xml", CONTAINER), ("part.musicxml", musicxml))
        for name, text in files:
            entry = zipfile.ZipInfo(name, FIXED_ZIP_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, text.encode())
    return buffer.getvalue()


# --- head -------------------------------------------------------------------------------------


def _identification(root: Element, song: Song) -> Element:
    """Add who wrote the file, and what only the chart can say; return where that stands."""
    element = add(root, "identification")
    add(add(element, "encoding"), "software", "groove")
    fields = add(element, "miscellaneous")
    for name, text in _chart_fields(song).items():
        add(fields, "miscellaneous-field", text, name=name)
    return fields


def _chart_fields(song: Song) -> Mapping[str, str]:
    """Return what travels as text: the whole chart, and its settings one by one."""
    settings = song.settings
    pushes = sum(
        span.push is not None for s in song.sections for bar in s.bars for span in bar.chords
    )
    fields = {
        "form": form_text(song),
        "feel": settings.feel.name if settings.feel else "",
        SECTION_FEELS_FIELD: ", ".join(
            f"{section.name}: {section.settings.feel.name}"
            for section in song.sections
            if section.settings.feel
        ),
        "fills": str(settings.fills or ""),
        "swing": str(settings.swing or ""),
        "seed": "" if settings.seed is None else str(settings.seed),
        "pushes": str(pushes or ""),
        CHART_FIELD: write_chart(song),
    }
    return {name: text for name, text in fields.items() if text}


def _used_drums(score: Score) -> tuple[int, ...]:
    """Return the drum keys of a part, none for other parts."""
    if score.part is not Part.DRUMS:
        return ()
    return tuple(sorted({head.note.pitch for _, _, head in score.heads()}))


def _part_list(root: Element, score: Score, drums: tuple[int, ...]) -> None:
    """Add the part with its instruments; programs and drum keys count from 1 here."""
    part = add(add(root, "part-list"), "score-part", id=PART_ID)
    name = PART_NAMES[score.part]
    add(part, "part-name", name)
    printed = {drum.key: drum.printed for drum in DRUM_TABLE}
    instruments = [(f"{PART_ID}-I{key}", printed.get(key, str(key)), key) for key in drums]
    instruments = instruments or [(STAFF_INSTRUMENT, name, 0)]
    if score.tab and len(score.staves) > 1:
        instruments.append((TAB_INSTRUMENT, f"{name} (tab)", 0))
    for ident, label, _ in instruments:
        add(add(part, "score-instrument", id=ident), "instrument-name", label)
    for ident, _, key in instruments:
        midi = add(part, "midi-instrument", id=ident)
        is_copy = ident == TAB_INSTRUMENT
        add(midi, "midi-channel", 10 if drums else 2 if is_copy else 1)
        add(midi, "midi-program", score.program + 1)
        if drums:
            add(midi, "midi-unpitched", key + 1)
        if is_copy:
            add(midi, "volume", 0)
