"""The keyboard's voicings: which notes of a chord, where, and led with the least movement.

Three or four notes between C3 and C5 for the whole song; the root is left to the bass in chords of
four or more notes; third and seventh are kept. Where a chord's bass is another note, nobody else
plays the root, so the keys have it, and leave out first what the bass has (common practice, no
source).
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from groove.arrange.arrangement import THICK, Comping
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span
from groove.search import cheapest_path
from groove.theory.chords import Chord, Degree
from groove.theory.pitch import OCTAVE
from groove.theory.voicing import movement, placements

LOWEST, HIGHEST = 48, 72
CENTRE, _HIGH_CENTRE = 60, 66
"""Where a section's first chord lies as a rule, and where the keys are high."""
_CHORUS_LIFT = 3
_WIDEST = 16
_CLOSEST_AT_BOTTOM = 3
_TONE_ORDER = (3, 4, 2, 7, 6, 13, 9, 11, 10, 5, 1)
"""Which degrees a voicing takes first; altered fifths come before plain ones."""
_FIRST, _LAST = -len(_TONE_ORDER), len(_TONE_ORDER)
_SAME_UNDER_ANOTHER = 24
"""What it costs in semitones to play one voicing under two chords: the change is not heard."""
_FEWEST_VOICES = 3

Voicing = tuple[int, ...]
_Voiced = tuple[Chord, int, bool]
"""A chord, how many notes it has at most, and whether the bass plays."""


def lead_voices(plan: Plan, spans: Sequence[Span]) -> list[Voicing]:
    """Return one voicing a chord, empty where there is no chord.

    Each occurrence of a section begins from the middle of the range and is led as a whole, so that
    it sounds the same wherever it stands; a chorus begins a little higher.
    """
    groups: list[list[Span]] = []
    for span in spans:
        if span.begins_section or not groups:
            groups.append([])
        groups[-1].append(span)
    # A section that comes again asks for the same voicings: they are led once.
    led: dict[tuple[int, tuple[_Voiced, ...]], list[Voicing]] = {}
    voicings: list[Voicing] = []
    for group in groups:
        centre = _centre(plan.bars[group[0].bar])
        voiced = tuple(
            (span.chord, _voice_count(bar), bar.bass is not None)
            for span in group
            for bar in (plan.bars[span.bar],)
            if span.chord
        )
        if (centre, voiced) not in led:
            led[centre, voiced] = _lead_group(voiced, centre)
        following = iter(led[centre, voiced])
        voicings += [next(following) if span.chord else () for span in group]
    return voicings


def _lead_group(voiced: Sequence[_Voiced], centre: int) -> list[Voicing]:
    """Return the voicings of one section: the least movement from its first chord to its last."""
    options = [chord_voicings(chord, count, has_bass=bass) for chord, count, bass in voiced]
    return least_movement(options, [chord for chord, *_ in voiced], centre)


def _voice_count(bar: BarPlan) -> int:
    """Return how many notes a voicing has at most in a bar: fewer where the band is thin."""
    is_sparse = bar.bass is not None and bar.arrangement.comping is Comping.SPARSE
    if bar.keys is None or (is_sparse and not bar.keys.as_written):
        return _FEWEST_VOICES
    return bar.keys.voice_count


def _centre(bar: BarPlan) -> int:
    """Return about which pitch a section's first voicing lies."""
    if bar.keys is not None and bar.keys.is_high:
        return _HIGH_CENTRE
    return CENTRE + _CHORUS_LIFT * (bar.arrangement.thickness >= THICK)


def least_movement(
    options: Sequence[Sequence[Voicing]], chords: Sequence[Chord], centre: int = CENTRE
) -> list[Voicing]:
    """Return one voicing a chord with the least movement in all (a shortest path, not greedy).

    The first chord pays for its distance from ``centre``, half as much as a move; a chord and
    another over the same notes (``D`` and ``D/F#``) are not voiced alike.
    """
    costs = [[_start_cost(voicing, centre) for voicing in layer] for layer in options[:1]]
    costs += [[0.0] * len(layer) for layer in options[1:]]
    changes = [False, *(old != new for old, new in pairwise(chords))]

    def moves(index: int) -> list[list[float]]:
        same = _SAME_UNDER_ANOTHER * changes[index]
        return [
            [movement(old, new) + same * (old == new) for old in options[index - 1]]
            for new in options[index]
        ]

    path = cheapest_path(costs, moves)
    return [layer[choice] for layer, choice in zip(options, path.choices, strict=True)]


def _start_cost(voicing: Voicing, centre: int) -> float:
    """Return how far a voicing lies from a pitch, in semitones, halved."""
    return sum(abs(pitch - centre) for pitch in voicing) / 2


@lru_cache(maxsize=4096)
def chord_voicings(chord: Chord, count: int, *, has_bass: bool) -> tuple[Voicing, ...]:
    """Return the voicings of a chord in the range that a hand can play and an ear can bear."""
    classes = _voiced_classes(chord, count, has_bass=has_bass)
    every = list(placements(classes, LOWEST, HIGHEST))
    good = [
        v
        for v in every
        if v[-1] - v[0] <= _WIDEST and (len(v) < 2 or v[1] - v[0] >= _CLOSEST_AT_BOTTOM)
    ]
    return tuple(good or every)


def _voiced_classes(chord: Chord, count: int, *, has_bass: bool) -> tuple[int, ...]:
    """Return the pitch classes that a voicing has, without repeats."""
    below = chord.bass_note.pitch_class
    is_inverted = has_bass and chord.bass is not None
    leave_root = has_bass and not is_inverted and len(chord.pitch_classes) >= 4

    def order(degree: Degree) -> int:
        if is_inverted and degree.number == 1:
            return _FIRST
        if is_inverted and (chord.root.pitch_class + degree.semitones) % 12 == below:
            return _LAST
        return _TONE_ORDER.index(degree.number) - (6 if degree.number == 5 and degree.alter else 0)

    ordered = sorted(
        (degree for degree in chord.degrees if not (leave_root and degree.number == 1)), key=order
    )
    classes = dict.fromkeys((chord.root.pitch_class + degree.semitones) % 12 for degree in ordered)
    return tuple(classes)[:count]


@lru_cache(maxsize=4096)
def in_four_voices(voicing: Voicing) -> Voicing:
    """Return a voicing with a fourth voice where it has three.

    Its lowest an octave up, or where that leaves the range its highest an octave down.
    """
    if len(voicing) != _FEWEST_VOICES:
        return voicing
    raised, lowered = voicing[0] + OCTAVE, voicing[-1] - OCTAVE
    if raised <= HIGHEST and raised not in voicing:
        return tuple(sorted((*voicing, raised)))
    return tuple(sorted({*voicing, max(LOWEST, lowered)}))
