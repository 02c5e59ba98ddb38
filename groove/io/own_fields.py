"""What a MusicXML file of ours says in fields of its own, beside its chart."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import TypeVar
from xml.etree.ElementTree import Element

from msgspec.structs import replace

from groove.chart.model import FormEntry, Named, Section, Song, WrittenBar
from groove.chart.parse import parse_chart
from groove.chart.settings import MOST_TIMES
from groove.errors import ChartError
from groove.sheet.musicxml import SECTION_FEELS_FIELD

FIELD_SETTINGS = ("feel", "fills", "swing", "seed")
"""Settings of a song that have a field each, as a chart has them."""
FORM_FIELD = "form"
_STEP = re.compile(r"\s*(?P<name>.+?)(?:\s+x(?P<times>\d+))?\s*")
_SOFTWARE = "groove"
_Known = TypeVar("_Known")


def own_field(root: Element, name: str) -> str:
    """Return a text that a file of ours carries, empty for none."""
    fields = root.iter("miscellaneous-field")
    return next((each.text or "" for each in fields if each.get("name") == name), "")


def with_own_fields(root: Element, song: Song) -> Song:
    """Return a song that was read with what the fields of a file of ours say, if it is one."""
    if _SOFTWARE not in (each.text for each in root.iter("software")):
        return song
    stated = [(name, own_field(root, name)) for name in FIELD_SETTINGS]
    lines = [f"{name}: {' '.join(text.split())}" for name, text in stated if text]
    try:
        found = parse_chart("\n".join([*lines, "a:", "| C |", ""]), source=song.source).settings
    except ChartError:
        return song
    values = {name: getattr(found, name) for name in FIELD_SETTINGS}
    settings = replace(song.settings, **{name: v for name, v in values.items() if v is not None})
    if found.feel:
        # The swing that the file says is what the feel brings, unless a field states one.
        song = without_swing(song)
        settings = replace(settings, swing=found.swing)
    song = _with_form(replace(song, settings=settings), own_field(root, FORM_FIELD))
    pairs = [pair.partition(": ") for pair in own_field(root, SECTION_FEELS_FIELD).split(", ")]
    feels = {name.casefold(): feel for name, _, feel in pairs if feel}
    return replace(song, sections=tuple(_with_feel(each, feels) for each in song.sections))


def _with_feel(section: Section, feels: Mapping[str, str]) -> Section:
    """Return a section with the feel that its name has."""
    feel = of_name(section.name, feels)
    if feel is None:
        return section
    named = Named(name=feel, place=section.place)
    return replace(section, settings=replace(section.settings, feel=named))


def of_name(name: str, known: Mapping[str, _Known]) -> _Known | None:
    """Return what is known of a section by its name in small letters, None for nothing.

    A later time of it, which a file has under its own name, has a number behind it.
    """
    folded = name.casefold()
    return known.get(folded, known.get(folded.rstrip("0123456789").rstrip()))


def without_swing(song: Song) -> Song:
    """Return a song without the swing that its file says, which its chart's feel brings."""
    even = replace(song.settings, swing=None)
    sections = tuple(
        replace(section, settings=replace(section.settings, swing=None))
        for section in song.sections
    )
    return replace(song, settings=even, sections=sections)


# --- the form ---------------------------------------------------------------------------------


def _with_form(song: Song, form: str) -> Song:
    """Return a song whose sections come again by its form, where all their times are alike."""
    steps = [match for step in form.split(",") if (match := _STEP.fullmatch(step))]
    entries = tuple(FormEntry(section=m["name"], times=int(m["times"] or 1)) for m in steps)
    names = [entry.section for entry in entries for _ in range(min(entry.times, MOST_TIMES))]
    times = [bars for section in song.sections for bars in _times(section.bars)]
    if song.form or len(names) != len(times):
        return song
    settings = [s.settings for s in song.sections for _ in _times(s.bars)]
    found: dict[str, Section] = {}
    number = 1
    for name, bars, own in zip(names, times, settings, strict=True):
        known = found.get(name.casefold())
        if known is None:
            numbered = tuple(replace(bar, number=number + at) for at, bar in enumerate(bars))
            number += len(bars)
            place = bars[0].place
            found[name.casefold()] = Section(name=name, settings=own, bars=numbered, place=place)
        elif (known.settings, _unnumbered(known.bars)) != (own, _unnumbered(bars)):
            return song
    return replace(song, sections=tuple(found.values()), form=entries)


def _times(bars: Sequence[WrittenBar]) -> Iterator[tuple[WrittenBar, ...]]:
    """Yield the bars of a section once for each time that it is played by its repeat signs."""
    inner = [bar.opens_repeat for bar in bars[1:]] + [bar.closes_repeat for bar in bars[:-1]]
    is_repeated = bars[0].opens_repeat and bars[-1].closes_repeat
    if not is_repeated or any(inner) or any(bar.endings for bar in bars):
        yield tuple(bars)
        return
    first, last = bars[0], bars[-1]
    plain = [replace(bar, opens_repeat=False, closes_repeat=False, passes=2) for bar in bars]
    for _ in range(last.passes if first.opens_repeat else 1):
        yield tuple(plain)


def _unnumbered(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Return bars without their numbers, so that two times of them are equal."""
    return [replace(bar, number=0) for bar in bars]
