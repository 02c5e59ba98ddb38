"""A piece of a performance: chosen bars, repeated, with a count-in or a click.

The whole song is arranged first and cut then, so that a loop sounds as in the song.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from itertools import accumulate

from msgspec.structs import replace

from groove.arrange.levels import level_velocity
from groove.bar_place import BarRef
from groove.chart.form import MOST_PLAYED_BARS, MOST_TIMES_OVER
from groove.errors import OptionError, joined_hints, nearest_hint
from groove.events import (
    Bar,
    CountGiver,
    Marker,
    Note,
    Origin,
    Part,
    Performance,
    Role,
    Touch,
    note_order,
)
from groove.naming import named_among
from groove.notices import Notice, NoticeKind
from groove.theory.general_midi import COUNT_IN_KEY, DRUM_KEYS
from groove.timing import TICKS_PER_QUARTER, TempoChange, TempoMap

COUNT_IN_SECTION = "count-in"
COUNT_IN_LEVELS = (8, 6)
CLICK_LEVELS = (7, 5, 2)
CLICK_KEYS = (DRUM_KEYS["high_block"], DRUM_KEYS["low_block"], DRUM_KEYS["low_block"])
"""Of a bar's first beat, its others, and what lies between them."""
CLICK_TICKS = 120
SHORTEST_TAIL_TICKS = 60


class ClickUnit(StrEnum):
    """What a click strikes: the beats alone, or what lies between them too."""

    BEATS = "beats"
    EIGHTHS = "eighths"
    TRIPLETS = "triplets"
    SIXTEENTHS = "sixteenths"

    def step_ticks(self, pulse: int) -> int:
        """Return the ticks from click to click where a beat has ``pulse`` ticks.

        Triplets are three to any beat; a beat that is no longer than the unit stays whole.
        """
        if self is ClickUnit.BEATS:
            return pulse
        wanted = pulse // 3 if self is ClickUnit.TRIPLETS else _NOTE_TICKS[self]
        return wanted if pulse % wanted == 0 else pulse


_NOTE_TICKS = {
    ClickUnit.EIGHTHS: TICKS_PER_QUARTER // 2,
    ClickUnit.SIXTEENTHS: TICKS_PER_QUARTER // 4,
}


def only_parts(performance: Performance, parts: Collection[Part]) -> Performance:
    """Return the performance with the notes of some parts alone."""
    notes = tuple(note for note in performance.notes if note.part in parts)
    return replace(performance, notes=notes)


def choose_bars(
    performance: Performance, sections: Sequence[str] = (), bars: range | None = None
) -> tuple[int, ...]:
    """Return the indices of the bars that a selection means, as they are first played.

    ``sections`` are names, case aside, and are played with their repeats; ``chorus 3`` is the third
    time that the chorus is played, ``chorus`` the first; once, where a record has that time again.
    ``bars`` are written bars, each once, a pickup being bar 0.  Both together mean the bars of
    those sections that are in the range.
    Raises OptionError for what the song does not have.
    """
    refs = [bar.ref for bar in performance.bars]
    times: dict[str, int] = {}
    for ref in refs:
        if ref.is_written:
            times[ref.section] = max(ref.occurrence, times.get(ref.section, 0))
    wanted = [_parse_section(name, times) for name in sections]
    chosen: dict[int, int] = {}
    for index, ref in enumerate(refs):
        own = ref.section.casefold()
        if wanted and not any(
            name == own and time in (None, ref.occurrence) for name, time in wanted
        ):
            continue
        if bars is not None and ref.written_bar in bars and ref.played_bar >= 0:
            chosen.setdefault(ref.written_bar, index)
        is_asked = (own, ref.occurrence) in wanted or ref.occurrence == 1
        if bars is None and is_asked and ref.is_written:
            chosen.setdefault(ref.played_bar, index)
    if not chosen:
        raise _no_such_bars(refs, sections, {name for name, _ in wanted}, bars)
    return tuple(chosen.values())


def _no_such_bars(
    refs: Sequence[BarRef], sections: Sequence[str], names: Collection[str], bars: range | None
) -> OptionError:
    """Return the error for a choice without a bar: where its bars are, and what would do."""
    song = [ref for ref in refs if ref.played_bar >= 0]
    outside = dict.fromkeys(ref.section for ref in song if bars and ref.written_bar in bars)
    if bars is None or not outside:
        played = {ref.written_bar for ref in song}
        asked = f": {_bars_words(bars)}" if bars else ""
        hint = f"expected bars from {min(played)} to {max(played)}"
        return OptionError(f"no such bars are played in this song{asked}", hint=hint)
    own: dict[str, list[int]] = {}
    for ref in song:
        if ref.section.casefold() in names:
            own.setdefault(ref.section, []).append(ref.written_bar)
    spans = {name: _bars_words(range(min(each), max(each) + 1)) for name, each in own.items()}
    there = ", ".join(f"{name} is bars {span}" for name, span in spans.items())
    asked = f"bars {_bars_words(bars)} are" if len(bars) > 1 else f"bar {bars.start} is"
    return OptionError(
        f"{asked} in {' and '.join(outside)}; {there}",
        hint=f"expected bars of {', '.join(sections)}, e.g. --bars {next(iter(spans.values()))}, "
        "or --bars without --sections",
    )


def _bars_words(bars: range) -> str:
    return f"{bars.start}-{bars.stop - 1}" if len(bars) > 1 else f"{bars.start}"


def _parse_section(text: str, times: Mapping[str, int]) -> tuple[str, int | None]:
    """Return a section's folded name and which time of it is meant, None where none is said.

    ``times`` is how often each section is played.  Raises OptionError with the nearest name.
    """
    folded = " ".join(text.casefold().split())
    known = {name.casefold(): count for name, count in times.items()}
    whole = named_among(folded, known)
    if whole in known:
        return whole, None
    name, _, number = folded.rpartition(" ")
    name = named_among(name, known)
    if name in known and number.isascii() and number.isdecimal():
        if 1 <= int(number) <= known[name]:
            return name, int(number)
        count = known[name]
        raise OptionError(
            f"no such time of {name}: {text!r}",
            hint=f"it is played {'once' if count == 1 else f'{count} times'}",
        )
    near = nearest_hint(folded, times)
    hint = joined_hints(near, "expected one of: " + ", ".join(times))
    raise OptionError(f"no such section: {text!r}", hint=hint)


def cut_bars(performance: Performance, indices: Sequence[int], times: int = 1) -> Performance:
    """Return the chosen bars one after the other, ``times`` over.

    A note tied over from a bar that is left out is struck at the cut; one that would ring past
    the cut ends there.
    """
    if not 1 <= times <= MOST_TIMES_OVER:
        raise OptionError(f"cannot play it {times} times", hint=f"expected 1 to {MOST_TIMES_OVER}")
    if len(indices) * times > MOST_PLAYED_BARS:
        raise OptionError(
            f"{len(indices)} bars {times} times are {len(indices) * times} bars",
            hint=f"expected at most {MOST_PLAYED_BARS}: fewer bars or fewer times",
        )
    pieces = _Pieces(performance)
    for _ in range(times):
        for first, last in runs(indices):
            pieces.add(first, last)
    return pieces.performance()


def piece(
    performance: Performance,
    sections: Sequence[str] = (),
    bars: range | None = None,
    times: int = 1,
) -> Performance:
    """Return some bars one after the other, ``times`` (1 to 200) over; all where none are asked.

    ``sections`` are names, case aside, and come with their repeats; ``bars`` are the chart's own
    numbers, each played once, as ``range(5, 9)`` for bars 5 to 8.  Bars after the song's last are
    left out, with a notice.  Raises OptionError for what the song does not have.
    """
    if not sections and bars is None:
        return (
            performance
            if times == 1
            else cut_bars(performance, range(len(performance.bars)), times)
        )
    cut = cut_bars(performance, choose_bars(performance, sections, bars), times)
    last = max(bar.ref.written_bar for bar in performance.bars)
    if bars and bars.stop - 1 > last:
        notice = Notice(
            kind=NoticeKind.NO_SUCH_BARS,
            values=(("first", last + 1), ("final", bars.stop - 1), ("last", last)),
        )
        return replace(cut, notices=(*cut.notices, notice))
    return cut


def runs(indices: Sequence[int]) -> Iterable[tuple[int, int]]:
    """Yield (first, last) for every run of neighbouring indices."""
    start = previous = indices[0]
    for index in indices[1:]:
        if index != previous + 1:
            yield start, previous
            start = index
        previous = index
    yield start, previous


class _Pieces:
    """Lays pieces of a performance one after the other."""

    def __init__(self, whole: Performance) -> None:
        self.whole = whole
        self.at_tick = 0
        self.notes: list[Note] = []
        self.bars: list[Bar] = []
        self.tempo: list[TempoChange] = []
        self.markers: list[Marker] = []

    def add(self, first: int, last: int) -> None:
        whole = self.whole
        start, end = whole.bars[first].start_tick, whole.bars[last].end_tick
        move = self.at_tick - start
        for note in whole.notes:
            kept = _piece_of(note, start, end)
            if kept:
                self.notes.append(replace(kept, grid_tick=kept.grid_tick + move))
        for bar in whole.bars[first : last + 1]:
            self.bars.append(replace(bar, start_tick=bar.start_tick + move))
        self.lay_map(start, end, move, whole.bars[first].ref.section)
        self.at_tick += end - start

    def lay_map(self, start: int, end: int, move: int, section: str) -> None:
        """Lay tempo and markers of a piece; a piece begins by saying where it is."""
        whole = self.whole
        tempo = [TempoChange(start, whole.tempo_map.microseconds_at(start))]
        tempo += [change for change in whole.tempo_map.changes if start < change.tick < end]
        for change in tempo:
            if not self.tempo or self.tempo[-1].microseconds != change.microseconds:
                self.tempo.append(TempoChange(change.tick + move, change.microseconds))
        markers = [Marker(start, section)]
        markers += [marker for marker in whole.markers if start < marker.tick < end]
        self.markers += [replace(marker, tick=marker.tick + move) for marker in markers]

    def performance(self) -> Performance:
        return replace(
            self.whole,
            notes=tuple(sorted(self.notes, key=note_order)),
            bars=tuple(self.bars),
            tempo_map=TempoMap(tuple(self.tempo)),
            markers=tuple(self.markers),
            end_tick=self.at_tick,
        )


def joined(performances: Sequence[Performance]) -> Performance:
    """Return performances one after the other, each with its own tempo; at least one is given.

    Raises OptionError for more bars than a song may have.
    """
    count = sum(len(performance.bars) for performance in performances)
    if count > MOST_PLAYED_BARS:
        raise OptionError(f"one track of {count} bars", hint=f"expected at most {MOST_PLAYED_BARS}")
    at_tick = 0
    notes: list[Note] = []
    bars: list[Bar] = []
    tempo: list[TempoChange] = []
    markers: list[Marker] = []
    for one in performances:
        notes += (replace(note, grid_tick=note.grid_tick + at_tick) for note in one.notes)
        bars += (replace(bar, start_tick=bar.start_tick + at_tick) for bar in one.bars)
        for change in one.tempo_map.changes:
            if not tempo or tempo[-1].microseconds != change.microseconds:
                tempo.append(TempoChange(change.tick + at_tick, change.microseconds))
        markers += (replace(marker, tick=marker.tick + at_tick) for marker in one.markers)
        at_tick += one.end_tick
    return replace(
        performances[0],
        notes=tuple(sorted(notes, key=note_order)),
        bars=tuple(bars),
        tempo_map=TempoMap(tuple(tempo)),
        markers=tuple(markers),
        end_tick=at_tick,
    )


def _piece_of(note: Note, start: int, end: int) -> Note | None:
    """Return the part of a note that lies between two bar lines, None where there is none."""
    written_end = min(note.grid_tick + note.written_ticks, end)
    if start <= note.grid_tick < end:
        shift = max(note.shift_ticks, start - note.grid_tick)
        onset = note.grid_tick + shift
        return replace(
            note,
            shift_ticks=shift,
            length_ticks=max(1, min(note.end_tick, end) - onset),
            stated_ticks=written_end - note.grid_tick,
        )
    tied = note.grid_tick < start and note.end_tick >= start + SHORTEST_TAIL_TICKS
    if not tied or note.part in (Part.DRUMS, Part.CLICK):
        return None
    return replace(
        note,
        grid_tick=start,
        shift_ticks=0,
        length_ticks=min(note.end_tick, end) - start,
        stated_ticks=max(1, written_end - start),
    )


def with_count_in(
    performance: Performance, heard: Collection[Part] = frozenset(Part)
) -> Performance:
    """Return the performance with its count-in before it, in the first full bar's meter.

    Before a pickup the count goes on for the rest of the pickup's bar, so that bar 1 falls where a
    bar is due: ``1 2 3 4 | 1 2 3`` and the pickup of one beat (common practice, no source).
    Where the bass gives it and is not among the parts that are ``heard``, sticks stand for it.
    A song that nobody counts in is left as it is.
    """
    if not performance.count_in.bars:
        return performance
    model = next(bar for bar in performance.bars if bar.ref.is_written)
    first = performance.bars[0]
    full = model.length_ticks
    lengths = [full] * performance.count_in.bars
    lengths += [] if first.ref.is_written else [full - first.length_ticks]
    starts = list(accumulate(lengths, initial=0))
    bars = [
        replace(
            model,
            ref=_count_in_ref(number),
            start_tick=start,
            length_ticks=length,
            chords=(),
            word=None,
        )
        for number, (start, length) in enumerate(zip(starts, lengths, strict=False))
    ]
    later = _shifted(performance, sum(lengths))
    pulse = model.meter.pulse_ticks
    part, pitch = count_in_sound(performance, heard)
    strokes = [
        _count_note(bar, tick, pitch, COUNT_IN_LEVELS[tick > bar.start_tick], part)
        for bar in bars
        for tick in range(bar.start_tick, bar.end_tick, pulse)
    ]
    return replace(
        later,
        notes=tuple(sorted((*strokes, *later.notes), key=note_order)),
        bars=(*bars, *later.bars),
        markers=(Marker(0, COUNT_IN_SECTION), *later.markers),
    )


def count_in_sound(
    performance: Performance, heard: Collection[Part] = frozenset(Part)
) -> tuple[Part, int]:
    """Return the part and the pitch that a song is counted in with: the bass mutes its first note.

    A bass that is alone taps its string (common practice, no source).
    """
    if performance.count_in.giver is CountGiver.HAT:
        return Part.CLICK, DRUM_KEYS["hat"]
    bass = performance.part_notes(Part.BASS)
    if performance.count_in.giver is CountGiver.BASS and bass and Part.BASS in heard:
        return Part.BASS, bass[0].pitch
    return Part.CLICK, COUNT_IN_KEY


def _count_in_ref(number: int) -> BarRef:
    """Return the name of a bar of the count-in; ``number`` counts from 0."""
    return BarRef(section=COUNT_IN_SECTION, bar_in_section=1 + number, written_bar=0, played_bar=-1)


def with_click(
    performance: Performance, unit: ClickUnit = ClickUnit.BEATS, *, silent: Collection[int] = ()
) -> Performance:
    """Return the performance with a click on every beat, a pickup's being the last of a bar.

    ``unit`` is what is struck between the beats too, straight and softer; ``silent`` are the bars
    without a click, by their index, a count-in's left out of the counting.
    """
    bars = [bar for bar in performance.bars if bar.ref.played_bar >= 0]
    clicks: list[Note] = []
    for index, (bar, after) in enumerate(zip(bars, [*bars[1:], bars[-1]], strict=True)):
        if index not in silent:
            meter = (after if bar.ref.is_pickup else bar).meter
            clicks += _bar_clicks(bar, meter.pulse_ticks, unit)
    notes = tuple(sorted((*performance.notes, *clicks), key=note_order))
    return replace(performance, notes=notes)


def _bar_clicks(bar: Bar, pulse: int, unit: ClickUnit) -> Iterator[Note]:
    """Yield the clicks of one bar; ``pulse`` is the length of its beat in ticks."""
    first_beat = bar.start_tick + bar.length_ticks % pulse
    for tick in range(first_beat, bar.end_tick, unit.step_ticks(pulse)):
        is_beat = (tick - first_beat) % pulse == 0
        place = 0 if tick == bar.start_tick and not bar.ref.is_pickup else 1 if is_beat else 2
        yield _count_note(bar, tick, CLICK_KEYS[place], CLICK_LEVELS[place])


def _count_note(bar: Bar, tick: int, key: int, level: int, part: Part = Part.CLICK) -> Note:
    """Return one stroke of a click or a count-in, which a bass plays muted."""
    return Note(
        part=part,
        touch=Touch.GHOST if part is Part.BASS else Touch.PLAIN,
        grid_tick=tick,
        length_ticks=CLICK_TICKS,
        pitch=key,
        velocity=level_velocity(level),
        origin=Origin(bar=bar.ref, cell="", role=Role.COUNT, level=level),
    )


def _shifted(performance: Performance, ticks: int) -> Performance:
    """Return the performance later by some ticks; the first tempo reaches back to 0."""
    changes = performance.tempo_map.changes
    tempo = (changes[0], *(replace(c, tick=c.tick + ticks) for c in changes[1:]))
    return replace(
        performance,
        notes=tuple(replace(note, grid_tick=note.grid_tick + ticks) for note in performance.notes),
        bars=tuple(replace(bar, start_tick=bar.start_tick + ticks) for bar in performance.bars),
        tempo_map=TempoMap(tempo),
        markers=tuple(replace(m, tick=m.tick + ticks) for m in performance.markers),
        end_tick=performance.end_tick + ticks,
    )
