"""The chart that a MusicXML file of ours carries, and what has become of it elsewhere.

As long as the bars and chords of the file say the same as its chart, the chart is what is read.
Where only chords were changed they go into the chart, which keeps its form, feel and words; where
bars were, what a chart asks of the band is kept.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any
from xml.etree.ElementTree import Element

from msgspec.structs import replace

from groove.chart.form import PlayedBar, unroll
from groove.chart.laying import lay_line
from groove.chart.model import ChordSpan, Notation, Section, Song, TabLine, WrittenBar
from groove.chart.parse import parse_chart
from groove.chart.transpose import sounding_song
from groove.errors import ChartError
from groove.notices import NoticeKind, make_notice
from groove.sheet.line_print import LINE_FIELD, line_print
from groove.sheet.musicxml import CHART_FIELD

KEPT_SETTINGS = ("feel", "fills", "swing", "vary", "seed", "bass_tone")
"""What a chart asks of the band that no sign of the file says."""


def own_song(root: Element, song: Song, source: str) -> tuple[Song, bool]:
    """Return a song that was read, as the chart says it that its file carries, if it does.

    The second value is whether it is that chart, bar by bar.
    """
    own = _carried(root, source)
    if own is None:
        return song, False
    bars, theirs = _bars_of(own), _bars_of(song)
    said = [_said(bar) for bar in bars]
    if said == [_said(bar) for bar in theirs]:
        return own, True
    if changed := _with_chords(own, theirs):
        return changed, True
    song = _without_swing(song)
    settings = {name: getattr(own.settings, name) for name in KEPT_SETTINGS}
    stated = {name: value for name, value in settings.items() if value is not None}
    return replace(song, settings=replace(song.settings, **stated)), False


def _without_swing(song: Song) -> Song:
    """Return a song without the swing that its file says, which its chart's feel brings."""
    even = replace(song.settings, swing=None)
    sections = tuple(
        replace(section, settings=replace(section.settings, swing=None))
        for section in song.sections
    )
    return replace(song, settings=even, sections=sections)


def is_as_drawn(root: Element, bass: Element) -> bool:
    """Return whether the notes of a part are those that we wrote."""
    return own_field(root, LINE_FIELD) == line_print(bass.findall("measure"))


def with_line_of(own: Song, song: Song) -> Song:
    """Return the chart that a file of ours carries with the notes that the file has now."""
    lines = [bar.line for bar in _bars_of(song)]
    notices = (make_notice(NoticeKind.LINE_CHANGED),)
    own = sounding_song(own)
    settings = replace(own.settings, tuning=song.settings.tuning)
    own = replace(own, settings=settings, notices=(*own.notices, *notices, *song.notices))
    return lay_line(own, [line if isinstance(line, TabLine) else None for line in lines])


def own_field(root: Element, name: str) -> str:
    """Return a text that a file of ours carries, empty for none."""
    fields = root.iter("miscellaneous-field")
    return next((each.text or "" for each in fields if each.get("name") == name), "")


def _carried(root: Element, source: str) -> Song | None:
    """Return the chart that a file carries, None where it has none that can be read."""
    text = own_field(root, CHART_FIELD)
    try:
        return parse_chart(text, source=source) if text else None
    except ChartError:
        return None


def _bars_of(song: Song) -> list[PlayedBar]:
    """Return the bars that are played, pickup apart."""
    return [bar for bar in unroll(song) if not bar.is_pickup]


def _said(bar: PlayedBar) -> Any:
    """Return what a bar says: meter, word to the band, and chords as they sound."""
    return bar.meter, bar.word, _chords_said(bar.chords)


def _chords_said(chords: Sequence[ChordSpan]) -> list[Any]:
    """Return where chords begin and how they sound; one that is struck again is held."""
    return [
        (
            span.start_quarters,
            span.chord and (span.chord.root.pitch_class, span.chord.pitch_classes),
            span.chord and span.chord.bass_note.pitch_class,
        )
        for index, span in enumerate(chords)
        if index == 0 or span.chord != chords[index - 1].chord
    ]


# --- changed chords ---------------------------------------------------------------------------


def _with_chords(own: Song, theirs: Sequence[PlayedBar]) -> Song | None:
    """Return the chart with the chords of a file in it, None where more than chords was changed.

    A written bar takes them where all times that it is played have the same.
    """
    own = sounding_song(own)
    ours = _bars_of(own)
    alike = [(a.meter, a.word) for a in ours] == [(b.meter, b.word) for b in theirs]
    if not alike or own.notation is not Notation.LETTERS:
        return None
    found: dict[int, tuple[ChordSpan, ...]] = {}
    for mine, other in zip(ours, theirs, strict=True):
        is_same = _chords_said(mine.chords) == _chords_said(other.chords)
        chords = mine.chords if is_same else other.chords
        before = found.setdefault(mine.ref.written_bar, chords)
        if _chords_said(before) != _chords_said(chords):
            return None
    sections = tuple(_changed(section, found) for section in own.sections)
    notice = make_notice(NoticeKind.CHORDS_CHANGED)
    return replace(own, sections=sections, notices=(*own.notices, notice))


def _changed(section: Section, chords: dict[int, tuple[ChordSpan, ...]]) -> Section:
    """Return a section with the chords of its bars, which are its own where they are others."""
    bars = [replace(bar, chords=chords.get(bar.number, bar.chords)) for bar in section.bars]
    if all(a.chords == b.chords for a, b in zip(bars, section.bars, strict=True)):
        return section
    first: list[WrittenBar] = bars[:1]
    told = [
        replace(bar, repeats_bar=bar.repeats_bar and bar.chords == before.chords)
        for before, bar in pairwise(bars)
    ]
    return replace(section, bars=(*first, *told), like="", changed=())
