"""What the tests of practice share: charts whose lengths can be worked out by hand."""

from collections.abc import Callable, Sequence
from fractions import Fraction

from groove.events import Part, Performance
from groove.io.library import load_library
from groove.neck.fingering import FingeredLine, finger_performance
from groove.pipeline import PerformOptions, perform_chart
from groove.practice.exercises import Exercise, usual_exercises
from groove.practice.ladder import Ladder
from groove.practice.practice_plan import exercise_tracks
from groove.practice.track import PracticeTrack, Sounding

LIBRARY = load_library()
EVERYTHING = Sounding(parts=frozenset(Part))
CLICK_ALONE = Sounding(parts=frozenset({Part.CLICK}))

TWO_TEMPI = """title: Two Tempi
tempo: 120
fills: none
verse:
| D | G |
chorus:
tempo: 60
| (3/4) A | Bm | D |
"""
"""At half its tempo, by hand: a beat of the verse lasts 1 s, one of the chorus 2 s."""


def played_at(text: str) -> Callable[[Fraction], Performance]:
    """Return what gives a whole chart at a percentage of its tempo, on the grid."""

    def play(percent: Fraction) -> Performance:
        options = PerformOptions(tight=True, tempo_percent=percent)
        return perform_chart(text, LIBRARY, options)

    return play


def tracks_of(
    text: str, exercise: Exercise, ladder: Ladder, *, bpm: int, sounding: Sounding = EVERYTHING
) -> list[PracticeTrack]:
    """Return the tracks of an exercise of a chart."""
    return exercise_tracks(exercise, ladder, Fraction(bpm), played_at(text), sounding)


def usual(text: str) -> tuple[Performance, FingeredLine, list[Exercise]]:
    """Return a chart as it is played and fingered, and what it asks to be practised."""
    whole = played_at(text)(Fraction(100))
    _, line = finger_performance(whole)
    return whole, line, usual_exercises(whole, line)


def ticks(performance: Performance, part: Part, pitches: Sequence[int] = ()) -> list[int]:
    """Return where a part strikes, some of its pitches alone where they are given."""
    return [
        note.onset_tick
        for note in performance.part_notes(part)
        if not pitches or note.pitch in pitches
    ]
