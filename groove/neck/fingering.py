"""From a finished bass line to string, fret, finger and plucking finger of every note.

The pitches are never changed here.  Times are read from the page (``grid_tick``), so swing and
humanising do not move a finger.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from msgspec import structs

from groove.errors import NeckError
from groove.events import Note, Part, Performance, Place, note_order
from groove.neck.hand import FRAMES, FrettingHand, Grip, Transition, make_hand
from groove.neck.instrument import STANDARD, TUNINGS, Tuning, tunings_with
from groove.neck.options import HASTE, NeckOptions, haste_index
from groove.neck.path import Fingering, GripTables, cheapest_grips
from groove.neck.plucking import (
    FINGERS,
    THUMB,
    PluckedStroke,
    Plucking,
    pluck_line,
    starts_anew,
)
from groove.neck.returns import as_known, from_the_start, in_position
from groove.neck.shapes import HandTask, first_root, hand_tasks
from groove.neck.stated import stated_notices
from groove.theory.pitch import SpelledPitch, pitch_name, spelled_pitch_name
from groove.timing import TempoMap


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A move of the fretting hand along the neck, made to reach the note ``note_index``.

    ``time_ms`` is the time from the note before (from the last fretted one, over an open string);
    a shift is hard when it uses more than half of what a hand can reach in that time.
    """

    note_index: int
    from_fret: int
    to_fret: int
    travel_mm: float
    time_ms: float
    is_hard: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FingeredLine:
    """A bass line with a place for every note, and what it asks of the hands.

    ``same_finger_repeats`` counts the plucking finger used twice running on fast notes.
    """

    notes: tuple[Note, ...]
    shifts: tuple[Shift, ...]
    rakes: int
    same_finger_repeats: int
    cost: float
    tuning: Tuning
    options: NeckOptions

    @property
    def travel_mm(self) -> float:
        """The whole way of the hand along the neck."""
        return sum(shift.travel_mm for shift in self.shifts)

    @property
    def places(self) -> tuple[Place, ...]:
        """The places of the notes, in order."""
        return tuple(note.place for note in self.notes if note.place)

    def __repr__(self) -> str:
        """Return how much there is, not all of it."""
        moves = f"{len(self.shifts)} shifts, {self.travel_mm:.0f} mm"
        return f"<FingeredLine {len(self.notes)} notes, {moves}>"


def finger_line(
    notes: Sequence[Note],
    *,
    tempo_map: TempoMap,
    tuning: Tuning = STANDARD,
    options: NeckOptions | None = None,
    tables: GripTables | None = None,
) -> FingeredLine:
    """Return the line with the cheapest place for every note (see ``Weights``).

    ``tables`` are those of an earlier line with the same options and tuning, whose costs are kept
    there (``line_tables``).  Raises NeckError, with the bar and what would do, for a part that no
    hand can play.
    """
    options = options or NeckOptions()
    whole = sorted(notes, key=lambda note: (note.grid_tick, note.pitch))
    tables = tables or line_tables(tuning, options)
    hand = tables.hand
    _check_playable(whole, tuning, options)
    line = _lowest_at_once(whole)
    tasks, same_run = hand_tasks(line, options.start_fret)
    if len(line) < len(whole):
        tasks = _with_beside(tasks, line, whole)
    tasks = _where_asked(tasks, line, tuning, options)
    windows_ms = _windows_ms(line, tempo_map)
    steps = _steps(windows_ms, same_run)
    path = _cheapest_path(tables, line, tasks, steps)
    if path.dead_end is not None:
        raise _dead_end_error(line, path.dead_end, windows_ms, hand, tasks, steps)
    plucking = pluck_line(_strokes(line, path.grips, windows_ms), thumb=options.thumb)
    placed = _with_double_stops(_placed(line, path.grips, plucking), whole, options)
    return FingeredLine(
        notes=placed,
        shifts=_shifts(hand, path.grips, windows_ms, _indices(line, whole)),
        rakes=plucking.rakes,
        same_finger_repeats=plucking.same_finger_repeats,
        cost=path.cost,
        tuning=tuning,
        options=options,
    )


def _where_asked(
    tasks: list[HandTask], line: Sequence[Note], tuning: Tuning, options: NeckOptions
) -> list[HandTask]:
    """Return the tasks with the place to begin, or the position to stay in, that was asked for."""
    if line and options.start_fret is not None:
        place = _start_place(line[first_root(line)], tuning, options)
        return from_the_start(tasks, place, tuning)
    if options.position_fret is not None:
        return in_position(tasks, options.position_fret, tuning)
    return tasks


def _cheapest_path(
    tables: GripTables,
    line: Sequence[Note],
    tasks: Sequence[HandTask],
    steps: Sequence[Transition],
) -> Fingering:
    """Return the cheapest grips, bars that come again fingered as the hand knows them.

    What is known of a bar changes what its grips cost, and no move: they are priced once.
    """
    path = cheapest_grips(tables, tasks, steps)
    known = as_known(line, tasks, path.grips) if path.grips else tasks
    return path if known == tasks else cheapest_grips(tables, known, steps)


def line_tables(tuning: Tuning, options: NeckOptions) -> GripTables:
    """Return empty tables for lines that are fingered one after another with the same options."""
    return GripTables(make_hand(tuning, options))


def finger_performance(
    performance: Performance, *, tuning: Tuning = STANDARD, options: NeckOptions | None = None
) -> tuple[Performance, FingeredLine]:
    """Return the performance with its bass placed, and the fingered bass line.

    Every bass note has its ``place`` then: string, fret, finger, pluck.  Raises NeckError, with
    the bar and what would do, for a part that no hand can play.
    """
    bass = performance.part_notes(Part.BASS)
    line = finger_line(bass, tempo_map=performance.tempo_map, tuning=tuning, options=options)
    others = [note for note in performance.notes if note.part is not Part.BASS]
    notes = sorted([*others, *line.notes], key=note_order)
    notices = (*performance.notices, *stated_notices(bass, line.options))
    return structs.replace(performance, notes=tuple(notes), notices=notices), line


def _windows_ms(line: Sequence[Note], tempo_map: TempoMap) -> list[float]:
    """Return the time from each note's predecessor to it; 0 for the first."""
    onsets_sec = [tempo_map.tick_to_sec(note.grid_tick) for note in line]
    before_sec = [*onsets_sec[:1], *onsets_sec]
    return [1000 * (new - old) for old, new in zip(before_sec, onsets_sec, strict=False)]


def _steps(windows_ms: Sequence[float], same_run: Sequence[bool]) -> list[Transition]:
    """Return the steps; over an open string the hand has until the next note to arrive."""
    after = [*windows_ms[1:], HASTE[-1].window_ms]
    return [
        Transition(same, haste_index(window), haste_index(window + more))
        for window, more, same in zip(windows_ms, after, same_run, strict=False)
    ]


def _strokes(
    line: Sequence[Note], grips: Sequence[Grip], windows_ms: Sequence[float]
) -> list[PluckedStroke]:
    """Return the strokes of the plucking hand: all notes but those that are slurred."""
    strokes = []
    end_tick = None
    since = 0.0
    for note, grip, window in zip(line, grips, windows_ms, strict=True):
        since += window
        if not note.touch.is_slurred:
            anew = end_tick is None or starts_anew(note.grid_tick - end_tick)
            strokes.append(PluckedStroke(grip.string, since, anew))
            since = 0.0
        end_tick = note.grid_tick + note.length_ticks
    return strokes


def _placed(line: Sequence[Note], grips: Sequence[Grip], plucking: Plucking) -> list[Note]:
    fingers = iter(plucking.fingers)
    return [
        structs.replace(
            note,
            place=Place(
                string=grip.string,
                fret=grip.fret,
                finger=grip.finger,
                pluck="" if note.touch.is_slurred else next(fingers),
                position_fret=grip.position,
            ),
        )
        for note, grip in zip(line, grips, strict=True)
    ]


def _lowest_at_once(notes: Sequence[Note]) -> list[Note]:
    """Return the notes with the lowest alone of those that are struck at once."""
    return [
        note
        for index, note in enumerate(notes)
        if not index or notes[index - 1].grid_tick != note.grid_tick
    ]


def _with_beside(
    tasks: list[HandTask], line: Sequence[Note], whole: Sequence[Note]
) -> list[HandTask]:
    """Return what is asked, each note with the frets that are held with it."""
    frets: dict[int, list[int]] = {}
    for note in whole:
        if note.stated_place and note.stated_place.fret:
            frets.setdefault(note.grid_tick, []).append(note.stated_place.fret)
    return [
        one._replace(beside=tuple(frets.get(note.grid_tick, ())) if one.fixed else ())
        for one, note in zip(tasks, line, strict=True)
    ]


def _indices(line: Sequence[Note], whole: Sequence[Note]) -> list[int]:
    """Return where each note of the line stands among all notes."""
    places = {id(note): index for index, note in enumerate(whole)}
    return [places[id(note)] for note in line]


def _with_double_stops(
    placed: Sequence[Note], whole: Sequence[Note], options: NeckOptions
) -> tuple[Note, ...]:
    """Return all notes, those struck with a lower one held by the same hand where it stands."""
    if len(placed) == len(whole):
        return tuple(placed)
    lowest = {note.grid_tick: note for note in placed}
    found: list[Note] = []
    for note in whole:
        lead = lowest[note.grid_tick]
        if note.pitch == lead.pitch and not (found and found[-1] is lead):
            found.append(lead)
        else:
            found.append(_beside(found[-1], note, options))
    return tuple(found)


def _beside(below: Note, note: Note, options: NeckOptions) -> Note:
    """Return a note of a double stop with the finger that lies over its fret."""
    assert below.place is not None and note.stated_place is not None
    string, fret = note.stated_place
    position = below.place.position_fret
    homes = {offset: finger for finger, offset in FRAMES[options.span_at(position)].items()}
    finger = homes.get(max(0, fret - position), 4) if fret else 0
    pluck = THUMB if options.thumb else FINGERS[below.place.pluck == FINGERS[0]]
    return structs.replace(
        note,
        place=Place(string=string, fret=fret, finger=finger, pluck=pluck, position_fret=position),
    )


def _shifts(
    hand: FrettingHand, grips: Sequence[Grip], windows_ms: Sequence[float], indices: Sequence[int]
) -> tuple[Shift, ...]:
    """Return the moves of the hand between fretted notes; open strings lend it their time.

    ``indices`` say where each note of the line stands among all notes.
    """
    shifts = []
    position: int | None = None
    window = 0.0
    for index, grip in enumerate(grips):
        window += windows_ms[index]
        if grip.fret == 0:
            continue
        if position is not None and position != grip.position:
            shifts.append(_shift(hand, indices[index], position, grip.position, window))
        position, window = grip.position, 0.0
    return tuple(shifts)


def _shift(hand: FrettingHand, index: int, old: int, new: int, time_ms: float) -> Shift:
    travel_mm = abs(hand.ruler_mm[new] - hand.ruler_mm[old])
    return Shift(
        note_index=index,
        from_fret=old,
        to_fret=new,
        travel_mm=travel_mm,
        time_ms=time_ms,
        is_hard=2 * travel_mm > HASTE[haste_index(time_ms)].reach_mm,
    )


def _bar_words(note: Note) -> str:
    """Return where a note stands, for a message: ``bar 12 (verse)``."""
    bar = note.origin.bar
    return f"bar {bar.written_bar} ({bar.section})"


def _check_playable(line: Sequence[Note], tuning: Tuning, options: NeckOptions) -> None:
    """Refuse two notes at once that nobody wrote for two strings, and a note off the neck."""
    for old, new in itertools.pairwise(line):
        if old.grid_tick == new.grid_tick and not (old.stated_place and new.stated_place):
            raise NeckError(
                f"{_bar_words(new)}: {_note_name(old)} and {_note_name(new)} at once",
                hint="a bass line has one note at a time: leave one of the two out",
            )
    on_neck = {
        pitch for pitch in {note.pitch for note in line} if tuning.places(pitch, options.last_fret)
    }
    for note in line:
        if note.stated_place:
            if note.stated_place.fret > options.fret_count:
                raise _off_neck_error(note, tuning, options)
        elif note.pitch not in on_neck:
            raise _off_neck_error(note, tuning, options)


def _off_neck_error(note: Note, tuning: Tuning, options: NeckOptions) -> NeckError:
    name = _note_name(note)
    beyond = [fret for _, fret in tuning.places(note.pitch, options.fret_count)]
    if beyond:
        return NeckError(
            f"{_bar_words(note)}: {name} is not below fret {min(beyond)}, and no fret over "
            f"{options.last_fret} was allowed",
            hint=f"would do: a highest fret of {min(beyond)}",
        )
    if note.pitch < tuning.lowest_pitch:
        lowest = pitch_name(tuning.lowest_pitch)
        what = f"{name} lies below the lowest string, {lowest} (tuning {tuning.name})"
        octaves = range(note.pitch + 12, 128, 12)
    else:
        highest = pitch_name(max(tuning.open_pitches) + options.last_fret)
        what = f"{name} is not on the neck, which ends at {highest} (fret {options.last_fret})"
        octaves = range(note.pitch - 12, -1, -12)
    near = next((p for p in octaves if tuning.places(p, options.last_fret)), None)
    tunings = tunings_with([note.pitch], options.last_fret)
    return NeckError(f"{_bar_words(note)}: {what}", hint=_would_do(near, note.pitch, tunings))


def _would_do(near: int | None, pitch: int, tunings: Sequence[Tuning]) -> str:
    """Return what would do: an octave, or tunings of the table."""
    cures = []
    if near is not None:
        octaves = abs(near - pitch) // 12
        side = "higher" if near > pitch else "lower"
        count = "an octave" if octaves == 1 else f"{octaves} octaves"
        cures.append(f"{count} {side} ({pitch_name(near)})")
    if tunings:
        cures.append("the tuning " + " or ".join(tuning.name for tuning in tunings))
    return "would do: " + "; ".join(cures or ["a slower tempo, or another note"])


def _start_place(note: Note, tuning: Tuning, options: NeckOptions) -> tuple[int, int]:
    """Return the string and fret at which the first root is wanted."""
    places = tuning.places(note.pitch, options.last_fret)
    for place in places:
        if place[1] == options.start_fret:
            return place
    there = ", ".join(f"fret {fret} ({tuning.string_words(string)})" for string, fret in places)
    raise NeckError(
        f"{_bar_words(note)}: the first root {_note_name(note)} "
        f"is not on fret {options.start_fret}",
        hint=f"it lies on {there}",
    )


def note_spelling(note: Note) -> SpelledPitch | None:
    """Return how its chord spells a note, None where the chord has it not."""
    chord = note.origin.chord
    if chord is None:
        return None
    spellings = (chord.bass_note, chord.root, *chord.tones)
    return next((one for one in spellings if one.pitch_class == note.pitch % 12), None)


def _note_name(note: Note) -> str:
    """Return the scientific name of a note, spelled as its chord spells it: ``Eb1``."""
    spelling = note_spelling(note)
    return spelled_pitch_name(note.pitch, spelling) if spelling else pitch_name(note.pitch)


def _dead_end_error(
    line: Sequence[Note],
    index: int,
    windows_ms: Sequence[float],
    hand: FrettingHand,
    tasks: Sequence[HandTask],
    steps: Sequence[Transition],
) -> NeckError:
    """Return the error for a note that no hand reaches in time, with what would."""
    old, new = line[index - 1], line[index]
    start = max(0, index - 3)
    lead, lead_steps = list(tasks[start:index]), list(steps[start : index + 1])

    def is_playable(other_hand: FrettingHand, pitch: int) -> bool:
        swapped = HandTask(pitch, new.touch, new.origin.time_keeping, None, None)
        return cheapest_grips(GripTables(other_hand), [*lead, swapped], lead_steps).dead_end is None

    octaves = (new.pitch - 12, new.pitch + 12)
    near = next((pitch for pitch in octaves if is_playable(hand, pitch)), None)
    others = [
        tuning
        for tuning in TUNINGS.values()
        if is_playable(replace(hand, tuning=tuning, _homes={}, _root_strings={}), new.pitch)
    ]
    return NeckError(
        f"{_bar_words(new)}: no hand gets from {_note_name(old)} to {_note_name(new)} "
        f"in {windows_ms[index]:.0f} ms",
        hint=_would_do(near, new.pitch, others),
    )
