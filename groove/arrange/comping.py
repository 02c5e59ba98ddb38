"""The keys part: voicings led with the least movement, played in the cell's rhythm.

Three or four notes between C3 and C5 for the whole song; the root is left to the bass in chords of
four or more notes; third and seventh are kept (common practice, no source).
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from groove.arrange.hits import hit_ticks
from groove.arrange.levels import level_velocity
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.rhythm import STOP_TICKS, Grid
from groove.arrange.spans import Span
from groove.cells.conditions import bar_of
from groove.cells.model import KeysCell
from groove.chart.model import BeatPoint
from groove.events import BandWord, Note, Origin, Part, Role
from groove.search import cheapest_path
from groove.theory.chords import Chord
from groove.theory.voicing import movement, placements

LOWEST, HIGHEST = 48, 72
CENTRE = 60
_WIDEST = 16
CLOSEST_AT_BOTTOM = 3
TONE_ORDER = (3, 4, 2, 7, 6, 13, 9, 11, 10, 5, 1)
"""Which degrees a voicing takes first; altered fifths come before plain ones."""
_CHANGE_LEVEL = 6
_HIT_LEVEL = 8

Voicing = tuple[int, ...]
_Voiced = tuple[Chord, int, bool]
"""A chord, how many notes it has at most, and whether the bass plays."""


def arrange_comping(plan: Plan, spans: Sequence[Span]) -> tuple[Note, ...]:
    """Return the keys part on the grid, with stated lengths and the cells' velocities."""
    voicings = _lead_voices(plan, spans)
    strokes = _strokes_by_bar(plan)
    notes: list[Note] = []
    pending = iter(strokes)
    stroke = next(pending, None)
    for span, voicing in zip(spans, voicings, strict=True):
        own = []
        while stroke is not None and stroke[0] < span.end_tick:
            own.append(stroke)
            stroke = next(pending, None)
        bar = plan.bars[span.bar]
        if span.chord is None or bar.keys is None or not voicing:
            continue
        for start, end, level, voices, octaves, step in _span_strokes(span, own, bar):
            pitches = _chosen_voices(voicing, voices, octaves=octaves)
            sounding = plan.bars[span.bar - 1] if start < bar.start_tick else bar
            for pitch in pitches:
                notes.append(
                    Note(
                        part=Part.KEYS,
                        grid_tick=start,
                        length_ticks=max(1, min(end, span.end_tick) - start),
                        pitch=pitch,
                        velocity=level_velocity(level),
                        origin=Origin(
                            bar=sounding.bar.ref,
                            onset=span.onset,
                            cell=bar.keys.name,
                            role=Role.VOICING,
                            level=level,
                            step=step,
                            pushed_ticks=max(0, span.grid_tick - start),
                        ),
                    )
                )
    return tuple(notes)


KeysDraft = tuple[int, int, int, tuple[int, ...], bool, int | None]
"""Start and end tick, level, voices, in octaves, step of the cell."""


def _strokes_by_bar(plan: Plan) -> Iterator[KeysDraft]:
    """Yield the strokes of every bar's cell, in order."""
    grid = Grid()
    for bar in plan.bars:
        cell = bar.keys
        if bar.has_hits and cell:
            yield from hits(bar, bar.bar.directions.hits)
            continue
        if cell is None or bar.word or bar.bar.is_pickup:
            continue
        if not cell.bars:
            yield from hits(bar, bar.bar.directions.kicks)
            continue
        assert cell.meter is not None, "a cell with strokes has a meter"
        strokes = bar_of(cell.bars, cell.when, bar.facts_for(cell))
        laid: list[KeysDraft] = [
            (
                bar.start_tick + start,
                bar.start_tick + end,
                stroke.level,
                stroke.voices,
                stroke.octaves,
                stroke.step,
            )
            for start, end, stroke in grid.lay(strokes, cell.meter, bar.bar.meter)
        ]
        yield from _kicked(laid, bar) if bar.has_kicks else laid


def hits(bar: BarPlan, points: Sequence[BeatPoint]) -> Iterator[KeysDraft]:
    """Yield the band's hits: the whole voicing, short."""
    for tick in hit_ticks(bar, points):
        start = bar.start_tick + tick
        yield (start, start + STOP_TICKS, _HIT_LEVEL, (), False, None)


def _kicked(laid: Sequence[KeysDraft], bar: BarPlan) -> list[KeysDraft]:
    """Return a bar's strokes with the kicks that the band catches; a held chord ends at one."""
    kicks = list(hits(bar, bar.bar.directions.kicks))
    starts = {kick[0] for kick in kicks}
    kept: list[KeysDraft] = [
        (stroke[0], min([stroke[1], *(at for at in starts if at > stroke[0])]), *stroke[2:])
        for stroke in laid
        if stroke[0] not in starts
    ]
    begins = [stroke[0] for stroke in (*kept, *kicks)]
    caught: list[KeysDraft] = [
        (kick[0], min([kick[1], *(at for at in begins if at > kick[0])]), *kick[2:])
        for kick in kicks
    ]
    return sorted([*kept, *caught], key=lambda stroke: stroke[0])


def _span_strokes(span: Span, own: list[KeysDraft], bar: BarPlan) -> Iterator[KeysDraft]:
    """Yield the strokes of one chord.

    A push, a word to the band and a chord that the cell passes over get a stroke of their own.
    """
    whole = (span.start_tick, span.end_tick, _CHANGE_LEVEL, (), False, None)
    if bar.word is BandWord.STOP:
        if span.grid_tick == bar.start_tick:
            yield (span.start_tick, span.grid_tick + STOP_TICKS, _CHANGE_LEVEL + 1, (), False, None)
        return
    if bar.has_hits:
        yield from own
        return
    if bar.word or (bar.keys and not bar.keys.bars):
        yield from held(whole, own)
        return
    later = [stroke for stroke in own if stroke[0] > span.grid_tick or not span.is_pushed]
    if span.is_pushed:
        end = later[0][0] if later else span.end_tick
        longest = span.grid_tick + bar.bar.meter.pulse_ticks
        yield (span.start_tick, min(end, longest), _CHANGE_LEVEL + 1, (), False, None)
    elif not later:
        yield whole
    yield from later


def held(whole: KeysDraft, kicks: Sequence[KeysDraft]) -> Iterator[KeysDraft]:
    """Yield a held chord, struck again where the band kicks."""
    start, end, level, *_ = whole
    strokes = {start: level} | {kick[0]: kick[2] for kick in kicks}
    for (at, loud), until in zip(strokes.items(), [*list(strokes)[1:], end], strict=True):
        yield (at, until, loud, (), False, None)


def _chosen_voices(voicing: Voicing, voices: tuple[int, ...], *, octaves: bool) -> list[int]:
    """Return the pitches of a stroke; a voice that the chord lacks is its highest."""
    pitches = sorted({voicing[min(v, len(voicing)) - 1] for v in voices} or voicing)
    if octaves:
        doubled = {p + 12 if p + 12 <= HIGHEST else p - 12 for p in pitches}
        pitches = sorted({*pitches, *doubled})
    return pitches


def _lead_voices(plan: Plan, spans: Sequence[Span]) -> list[Voicing]:
    """Return one voicing a chord, empty where there is no chord.

    Each occurrence of a section begins from the middle of the range and is led as a whole, so that
    it sounds the same wherever it stands.
    """
    groups: list[list[Span]] = []
    for span in spans:
        if span.begins_section or not groups:
            groups.append([])
        groups[-1].append(span)
    # A section that comes again asks for the same voicings: they are led once.
    led: dict[tuple[_Voiced, ...], list[Voicing]] = {}
    voicings: list[Voicing] = []
    for group in groups:
        voiced = tuple(
            (span.chord, _voice_count(bar.keys), bar.bass is not None)
            for span in group
            for bar in (plan.bars[span.bar],)
            if span.chord
        )
        if voiced not in led:
            led[voiced] = _lead_group(voiced)
        following = iter(led[voiced])
        voicings += [next(following) if span.chord else () for span in group]
    return voicings


def _lead_group(voiced: Iterable[_Voiced]) -> list[Voicing]:
    """Return the voicings of one section: the least movement from its first chord to its last."""
    return least_movement(
        [chord_voicings(chord, count, has_bass=has_bass) for chord, count, has_bass in voiced]
    )


def _voice_count(cell: KeysCell | None) -> int:
    """Return how many notes a cell's voicings have at most."""
    return cell.voice_count if cell else 3


def least_movement(options: Sequence[Sequence[Voicing]]) -> list[Voicing]:
    """Return one voicing a chord with the least movement in all (a shortest path, not greedy).

    The first chord pays for its distance from the middle of the range, half as much as a move.
    """
    costs = [[_start_cost(voicing) for voicing in layer] for layer in options[:1]]
    costs += [[0.0] * len(layer) for layer in options[1:]]
    path = cheapest_path(
        costs,
        lambda i: [[movement(old, new) for old in options[i - 1]] for new in options[i]],
    )
    return [layer[choice] for layer, choice in zip(options, path.choices, strict=True)]


def _start_cost(voicing: Voicing) -> float:
    """Return how far a voicing lies from the middle of the range, in semitones, halved."""
    return sum(abs(pitch - CENTRE) for pitch in voicing) / 2


@lru_cache(maxsize=4096)
def chord_voicings(chord: Chord, count: int, *, has_bass: bool) -> tuple[Voicing, ...]:
    """Return the voicings of a chord in the range that a hand can play and an ear can bear."""
    classes = _voiced_classes(chord, count, has_bass=has_bass)
    every = list(placements(classes, LOWEST, HIGHEST))
    good = [
        v
        for v in every
        if v[-1] - v[0] <= _WIDEST and (len(v) < 2 or v[1] - v[0] >= CLOSEST_AT_BOTTOM)
    ]
    return tuple(good or every)


def _voiced_classes(chord: Chord, count: int, *, has_bass: bool) -> tuple[int, ...]:
    """Return the pitch classes that a voicing has, without repeats."""
    leave_root = has_bass and len(chord.pitch_classes) >= 4
    ordered = sorted(
        (degree for degree in chord.degrees if not (leave_root and degree.number == 1)),
        key=lambda degree: (
            TONE_ORDER.index(degree.number) - (6 if degree.number == 5 and degree.alter else 0)
        ),
    )
    classes = dict.fromkeys((chord.root.pitch_class + degree.semitones) % 12 for degree in ordered)
    return tuple(classes)[:count]
