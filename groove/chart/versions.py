"""How often a section would have to be written, each time with its own notes under its bars.

Times of a section that have the same notes share one version.  Where passes of a repeat differ the
section is written out without its repeats; so it is where a song with jumps needs more than one
version, for a form: and jumps exclude each other.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace as struct_replace

from groove.chart.form import unnumbered, without_end
from groove.chart.model import Directions, Section, Song, TabLine
from groove.chart.order import Visit, marks, visits
from groove.chart.parse import ENDS_IN_TIMES
from groove.chart.repeats import play_order

LONGEST_STEM = 50


class Unwritten(StrEnum):
    """What stands under a bar where no notes are put: what stood there, or whatever will."""

    STAYS = "as it stands"
    UNPLAYED = "not played"


_Contents = tuple[TabLine | Unwritten, ...]


class Version(Struct, frozen=True, kw_only=True):
    """A section as it is to be written once.

    ``steps`` are the indices of its bars in the order written; ``lines`` what is to stand under
    each.  ``ends_song`` says that its words of the end count,
    ``is_written_out`` that it has no repeats.
    """

    name: str
    section: Section
    steps: tuple[int, ...]
    lines: _Contents
    ends_song: bool
    is_written_out: bool


class Kept(Struct, frozen=True, kw_only=True):
    """The versions of every section that is played, by its name, and their order.

    ``form`` is empty where the chart's own order still holds; ``has_jumps`` says whether it does
    by its jumps.
    """

    versions: Mapping[str, tuple[Version, ...]]
    form: tuple[str, ...]
    has_jumps: bool


class _SectionTime(Struct, frozen=True, kw_only=True):
    """One time that a section is played: its bars by index, and the notes under them."""

    section: str
    steps: tuple[int, ...]
    lines: _Contents


def kept_versions(song: Song, lines: Mapping[int, TabLine]) -> Kept:
    """Return what has to be written so that each played bar in ``lines`` has its notes.

    ``lines`` are by the bar's played number.
    """
    times = list(_times(visits(song), lines))
    out = {_stem(song, time.section) for time in times if _passes_differ(time)}
    found = _with_names(song, times, out)
    has_jumps = any(_is_jump(mark.written.directions) for mark in marks(song))
    needs_form = any(len(versions) > 1 for versions in found.values())
    if has_jumps and (out or needs_form):
        out |= {_stem(song, time.section) for time in times if not _is_whole(song, time)} | {
            _stem(song, song.sections[mark.section].name)
            for mark in marks(song)
            if _is_jump(mark.written.directions)
        }
        found = _with_names(song, times, out)
        has_jumps, needs_form = False, True
    form = tuple(_form(times, found)) if needs_form else ()
    return Kept(versions=found, form=form, has_jumps=has_jumps)


def directions_of(version: Version, place: int, kept: Kept) -> Directions:
    """Return what is said to the band at one bar of a version, without what holds no longer."""
    bar = version.section.bars[version.steps[place]]
    found = bar.directions
    is_split = version.is_written_out or len(kept.versions.get(version.section.name, ())) > 1
    ends = version.ends_song and version.steps[place] not in version.steps[place + 1 :]
    if is_split and not ends:
        found = without_end(found)
    if version.is_written_out:
        found = struct_replace(found, tag=0)
    if not kept.has_jumps:
        found = struct_replace(found, jump=None, has_segno=False, has_coda=False)
    return found


def _times(order: Sequence[Visit], lines: Mapping[int, TabLine]) -> Iterator[_SectionTime]:
    """Yield the times of the sections in order, with the notes under their bars."""
    number = 1
    for visit in order:
        steps = tuple(index for index, _ in visit.steps)
        own = tuple(lines.get(number + count, Unwritten.STAYS) for count in range(len(steps)))
        yield _SectionTime(section=visit.section, steps=steps, lines=own)
        number += len(steps)


def _stem(song: Song, name: str) -> str:
    """Return the section whose bars one has: its own, or those it is like."""
    return song.section(name).like or song.section(name).name


def _is_jump(directions: Directions) -> bool:
    return bool(directions.jump or directions.has_segno or directions.has_coda)


def _is_whole(song: Song, time: _SectionTime) -> bool:
    """Whether a time has all bars of its section with all repeats."""
    order = play_order(song.section(time.section).bars)
    return time.steps == tuple(index for index, _ in order)


def _passes_differ(time: _SectionTime) -> bool:
    """Whether a bar that is played more than once has different notes."""
    seen: dict[int, TabLine | Unwritten] = {}
    pairs = zip(time.steps, time.lines, strict=True)
    return any(seen.setdefault(index, line) != line for index, line in pairs)


def _with_names(
    song: Song, times: Sequence[_SectionTime], out: Iterable[str]
) -> dict[str, tuple[Version, ...]]:
    """Return the versions of every section, those after the first with names of their own."""
    found: dict[str, list[Version]] = {}
    taken = {section.name.casefold() for section in song.sections}
    played: Counter[str] = Counter()
    for number, time in enumerate(times):
        section = song.section(time.section)
        played[section.name] += 1
        is_out = _stem(song, time.section) in out
        steps, lines = (time.steps, time.lines) if is_out else _as_written(section, time)
        own = found.setdefault(section.name, [])
        ends = number == len(times) - 1
        for place, version in enumerate(own):
            merged = _merged(version.lines, lines) if version.steps == steps else None
            if merged is not None:
                ends = ends or version.ends_song
                own[place] = struct_replace(version, lines=merged, ends_song=ends)
                break
        else:
            count = played[section.name]
            name = _free_name(section.name, count, taken) if own else section.name
            own.append(
                Version(
                    name=name,
                    section=section,
                    steps=steps,
                    lines=lines,
                    ends_song=ends,
                    is_written_out=is_out,
                )
            )
    return {name: tuple(versions) for name, versions in found.items()}


def _as_written(section: Section, time: _SectionTime) -> tuple[tuple[int, ...], _Contents]:
    """Return a section's bars as they stand, with the notes of a time under those it plays."""
    own = dict(zip(time.steps, time.lines, strict=True))
    steps = tuple(range(len(section.bars)))
    return steps, tuple(own.get(index, Unwritten.UNPLAYED) for index in steps)


def _merged(first: _Contents, second: _Contents) -> _Contents | None:
    """Return the notes of two times as one, None where they differ."""
    pairs = list(zip(first, second, strict=True))
    if any(a != b and Unwritten.UNPLAYED not in (a, b) for a, b in pairs):
        return None
    return tuple(b if a is Unwritten.UNPLAYED else a for a, b in pairs)


def _free_name(name: str, time: int, taken: set[str]) -> str:
    """Return a section's name by the time that it is played, ``verse 3``, or the next free one.

    So a player finds a time under the number that ``--sections`` has for it.
    """
    stem = unnumbered(name)[:LONGEST_STEM].rstrip()
    if ENDS_IN_TIMES.search(f"{stem} 2"):
        stem = f"{stem} time"
    number = time
    while f"{stem} {number}".casefold() in taken:
        number += 1
    taken.add(f"{stem} {number}".casefold())
    return f"{stem} {number}"


def _form(times: Sequence[_SectionTime], found: Mapping[str, Sequence[Version]]) -> Iterator[str]:
    """Yield the name of the version of each time, in order."""
    for time in times:
        versions = found[time.section]
        steps, lines = time.steps, time.lines
        if not versions[0].is_written_out:
            steps, lines = _as_written(versions[0].section, time)
        yield next(
            version.name
            for version in versions
            if version.steps == steps and _merged(version.lines, lines) is not None
        )
