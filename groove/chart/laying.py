"""A line from elsewhere under the bars of a song: one bar of tab for each bar that is played.

Where a bar of the chart comes several times with the same notes they stand under it once.  Where
they differ from time to time the section gets others ``as`` it, with the bars that differ; where
they differ within a repeat, or the song jumps, the bars are written out in the order played.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from msgspec import Struct
from msgspec.structs import replace

from groove.chart.form import without_end
from groove.chart.model import FormEntry, Section, Slur, Song, TabLine, WrittenBar, WrittenNote
from groove.chart.order import Step, find_jump, visits
from groove.chart.parse import LONGEST_SECTION, MOST_SECTIONS
from groove.chart.settings import MOST_TIMES
from groove.errors import ChartError
from groove.notices import Notice, NoticeKind

_Line = TabLine | None
Lines = Mapping[int, _Line]


class Turn(Struct, frozen=True, kw_only=True):
    """One time that the song comes to a section: the bars that are played and their lines."""

    section: str
    steps: tuple[Step, ...]
    lines: tuple[_Line, ...]


def lay_line(song: Song, lines: Sequence[_Line]) -> Song:
    """Return a song with a line under its bars; ``lines`` has one for each bar played.

    A pickup has none; None leaves a bar to be drawn.  Notes that are tied over to a bar which
    stands elsewhere in the chart are struck again.  What is changed is told in the notices.
    Raises ChartError where the bars differ so often that no chart can say it.
    """
    turns = list(_song_turns(song, lines))
    by_name = {
        section.name: [turn for turn in turns if turn.section == section.name]
        for section in song.sections
    }
    placed = {name: _bar_lines(own) for name, own in by_name.items()}
    if all(found is not None for found in placed.values()):
        sections = [_with_lines(section, placed[section.name] or {}) for section in song.sections]
        return finished(replace(song, sections=tuple(sections)), {})
    return _written_out(song, turns, by_name)


def _song_turns(song: Song, lines: Sequence[_Line]) -> Iterator[Turn]:
    """Yield the sections as they are played, each with its lines."""
    start = 0
    for visit in visits(song):
        end = start + len(visit.steps)
        yield Turn(section=visit.section, steps=visit.steps, lines=tuple(lines[start:end]))
        start = end
    if start != len(lines):
        raise ValueError(f"{len(lines)} lines for {start} bars")


def _bar_lines(turns: Sequence[Turn]) -> Lines | None:
    """Return the one line of each bar, by its index; None where a bar has several."""
    found: dict[int, _Line] = {}
    for turn in turns:
        for (index, _), line in zip(turn.steps, turn.lines, strict=True):
            if found.setdefault(index, line) != line:
                return None
    return found


def _with_lines(section: Section, lines: Lines) -> Section:
    bars = (replace(bar, line=lines.get(index)) for index, bar in enumerate(section.bars))
    return replace(section, bars=tuple(bars))


# --- lines that differ ------------------------------------------------------------------------


def _written_out(song: Song, turns: Sequence[Turn], by_name: Mapping[str, Sequence[Turn]]) -> Song:
    """Return a song with a section for each way in which one is played, and a form."""
    has_jump = find_jump(song) is not None
    taken = {section.name.casefold() for section in song.sections}
    sections: list[Section] = []
    names: dict[tuple[str, tuple[WrittenBar, ...]], str] = {}
    alike: dict[str, str] = {}
    order: dict[int, str] = {}
    for section in song.sections:
        own = by_name[section.name]
        keeps = not has_jump and all(_bar_lines([turn]) is not None for turn in own)
        if not own:
            sections.append(section)
        for turn in own:
            body = (
                _with_lines(section, _bar_lines([turn]) or {}) if keeps else unrolled(section, turn)
            )
            key = (section.name, body.bars)
            if key not in names:
                is_first = section.name not in alike.values()
                name = section.name if is_first else _unused(section.name, taken)
                names[key], alike[name] = name, section.name
                sections.append(replace(body, name=name))
            order[id(turn)] = names[key]
    if len(sections) > MOST_SECTIONS:
        raise ChartError(
            f"the line differs so often that the chart would have {len(sections)} sections",
            place=song.sections[0].place,
            hint=f"expected at most {MOST_SECTIONS}: lay it under a chart with fewer repeats",
        )
    played = [order[id(turn)] for turn in turns]
    sections = [
        _with_words(section, ends=section.name == played[-1], jumps=not has_jump)
        for section in sections
    ]
    form = () if played == [s.name for s in sections] else tuple(_form_entries(played))
    return finished(replace(song, sections=tuple(sections), form=form), alike)


def unrolled(section: Section, turn: Turn) -> Section:
    """Return a section whose bars stand in the order played, without repeats."""
    last = {index: count for count, (index, _) in enumerate(turn.steps)}
    bars: list[WrittenBar] = []
    for count, ((index, _), line) in enumerate(zip(turn.steps, turn.lines, strict=True)):
        bar = section.bars[index]
        words = bar.directions if last[index] == count else without_end(bar.directions)
        bars.append(
            replace(
                bar,
                line=line,
                states_meter=bar.states_meter or bool(bars and bars[-1].meter != bar.meter),
                repeats_bar=False,
                opens_repeat=False,
                closes_repeat=False,
                passes=2,
                endings=(),
                directions=replace(words, tag=0),
            )
        )
    return replace(section, bars=tuple(bars), like="", changed=())


def _with_words(section: Section, *, ends: bool, jumps: bool) -> Section:
    """Return a section with the words of the song's end where it ends it, and of jumps if any."""
    bars = []
    for bar in section.bars:
        words = bar.directions if ends else without_end(bar.directions)
        if not jumps:
            words = replace(words, has_segno=False, has_coda=False, jump=None)
        bars.append(replace(bar, directions=words))
    return replace(section, bars=tuple(bars))


def _form_entries(names: Sequence[str]) -> Iterator[FormEntry]:
    for name, group in groupby(names):
        times = len(list(group))
        while times > 0:
            yield FormEntry(section=name, times=min(times, MOST_TIMES))
            times -= MOST_TIMES


def _unused(name: str, taken: set[str]) -> str:
    """Return a name for a section like another, and note it: ``verse 2``."""
    number = 2
    while True:
        ending = f" {number}"
        found = name[: LONGEST_SECTION - len(ending)] + ending
        if found.casefold() not in taken:
            taken.add(found.casefold())
            return found
        number += 1


# --- what a chart can say ---------------------------------------------------------------------


def finished(song: Song, alike: Mapping[str, str]) -> Song:
    """Return a song that reads back from its text: bars numbered, ties that hold, ``as`` stated.

    ``alike`` names, for each section that stands for another or a part of it, that one.
    """
    number = 0
    before: WrittenBar | None = None
    struck: list[int] = []
    sections: dict[str, Section] = {}
    for section in song.sections:
        bars: list[WrittenBar] = []
        for bar in section.bars:
            number += 1
            line = _holding(bar.line, before) if isinstance(bar.line, TabLine) else bar.line
            struck += [number] if line != bar.line else []
            before = replace(bar, number=number, line=line)
            bars.append(before)
        whole = replace(section, bars=tuple(bars), like="", changed=())
        base = sections.get(section.like or alike.get(section.name, ""))
        sections[section.name] = _as_like(whole, base) if base else whole
    found = tuple(sections.values())
    return replace(song, sections=found, notices=(*song.notices, *_changes(struck, alike)))


def _holding(line: TabLine, before: WrittenBar | None) -> TabLine:
    """Return a bar's tab, struck where it goes on from a note that the bar before does not have.

    ``before`` is the bar before it in the chart, where ``=`` and ``h`` find what they go on from.
    """
    own = before.line if before and isinstance(before.line, TabLine) else None
    notes: list[WrittenNote] = []
    for note in line.notes:
        is_first = all(other.string != note.string for other in notes)
        if note.is_tied and not _is_held(note, own, before):
            note = replace(note, is_tied=False)
        elif note.slur in (Slur.HAMMER_ON, Slur.PULL_OFF) and is_first:
            note = note if _is_led_to(note, own) else replace(note, slur=None)
        notes.append(note)
    return replace(line, notes=tuple(notes))


def _is_led_to(note: WrittenNote, line: TabLine | None) -> bool:
    """Return whether the last note on a string leads to this one by the fretting hand."""
    earlier = [other for other in line.notes if other.string == note.string] if line else []
    if not earlier or earlier[-1].fret is None or note.fret is None:
        return False
    rises = note.fret > earlier[-1].fret
    return note.fret != earlier[-1].fret and rises is (note.slur is Slur.HAMMER_ON)


def _is_held(note: WrittenNote, line: TabLine | None, bar: WrittenBar | None) -> bool:
    """Return whether a note goes on from the last one on its string of the bar before."""
    lasting = [other for other in line.notes if other.string == note.string] if line else []
    if not lasting or not bar:
        return False
    last = lasting[-1]
    lasts = last.start_quarters + last.length_quarters == bar.meter.bar_quarters
    same = replace(
        last,
        start_quarters=note.start_quarters,
        length_quarters=note.length_quarters,
        slur=None,
        is_tied=True,
    )
    return lasts and same == note


def _as_like(section: Section, base: Section) -> Section:
    """Return a section as one that is like ``base`` where their bars have the same frame."""
    pairs = list(zip(section.bars, base.bars, strict=False))
    if (
        base.like
        or len(section.bars) != len(base.bars)
        or any(frame(a) != frame(b) for a, b in pairs)
    ):
        return section
    changed = [
        i for i, (own, other) in enumerate(pairs, 1) if replace(own, number=other.number) != other
    ]
    if len(changed) == len(pairs):
        return section
    return replace(section, like=base.name, changed=tuple(changed))


def frame(bar: WrittenBar) -> tuple[object, ...]:
    """Return what ``bar 4: | D |`` cannot change of a bar."""
    return bar.opens_repeat, bar.closes_repeat, bar.passes, bar.endings, bar.double_bar, bar.meter


def _changes(struck: Sequence[int], alike: Mapping[str, str]) -> Iterator[Notice]:
    """Yield the notices of notes struck again, and of sections that a line made."""
    if struck:
        bars = tuple(("bar", number) for number in struck)
        yield Notice(kind=NoticeKind.STRUCK_AGAIN, values=bars)
    for name in dict.fromkeys(alike.values()):
        others = [other for other, of in alike.items() if of == name and other != name]
        if others:
            values = (("section", name), *(("other", other) for other in others))
            yield Notice(kind=NoticeKind.LINE_DIFFERS, values=values)
