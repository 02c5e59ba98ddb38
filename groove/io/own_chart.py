"""The chart that a MusicXML file of ours carries, and what has become of it elsewhere.

As long as the bars and chords of the file say the same as its chart, the chart is what is read.
Where only chords were changed they go into the chart, which keeps its form, feel and words; where
bars were, what a chart asks of the band is kept.  Of a file without its chart the other fields
are read: feel, fills, swing, seed, and a form that says the same.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any
from xml.etree.ElementTree import Element

from msgspec.structs import replace

from groove.chart.form import PlayedBar, unroll
from groove.chart.laying import lay_line
from groove.chart.model import (
    ChordSpan,
    Notation,
    Section,
    Settings,
    Song,
    TabLine,
    WrittenBar,
)
from groove.chart.parse import parse_chart
from groove.chart.transpose import sounding_song
from groove.errors import ChartError
from groove.io.own_fields import of_name, own_field, with_own_fields, without_swing
from groove.notices import NoticeKind, make_notice
from groove.sheet.line_print import LINE_FIELD, line_print
from groove.sheet.musicxml import CHART_FIELD

KEPT_SETTINGS = ("feel", "fills", "swing", "vary", "seed", "bass_tone")
"""What a chart asks of the band that no sign of the file says."""
KEPT_IN_SECTIONS = ("feel", "bass", "drums", "keys", "fills", "swing", "vary")
"""The same of a section, where one of its name is still there."""


def own_song(root: Element, song: Song, source: str) -> tuple[Song, bool]:
    """Return a song that was read, as the chart says it that its file carries, if it does.

    The second value is whether it is that chart, bar by bar.
    """
    own = _carried(root, source)
    if own is None:
        return with_own_fields(root, song), False
    bars, theirs = _bars_of(own), _bars_of(song)
    said = [_bar_facts(bar) for bar in bars]
    if said == [_bar_facts(bar) for bar in theirs]:
        return own, True
    if changed := _with_chords(own, theirs):
        return changed, True
    song = without_swing(song)
    settings = _kept(song.settings, own.settings, KEPT_SETTINGS)
    sections = tuple(_with_own_settings(section, own) for section in song.sections)
    return replace(song, settings=settings, sections=sections, riffs=own.riffs), False


def _kept(settings: Settings, own: Settings, names: Sequence[str]) -> Settings:
    """Return settings with those of a chart that it states."""
    values = {name: getattr(own, name) for name in names}
    return replace(settings, **{name: v for name, v in values.items() if v is not None})


def _with_own_settings(section: Section, own: Song) -> Section:
    """Return a section with what the chart asks of the band in that of its name."""
    named = of_name(section.name, {each.name.casefold(): each for each in own.sections})
    if named is None:
        return section
    return replace(section, settings=_kept(section.settings, named.settings, KEPT_IN_SECTIONS))


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


def _bar_facts(bar: PlayedBar) -> Any:
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
    rest = [
        replace(bar, repeats_bar=bar.repeats_bar and bar.chords == before.chords)
        for before, bar in pairwise(bars)
    ]
    return replace(section, bars=(*first, *rest), like="", changed=())
