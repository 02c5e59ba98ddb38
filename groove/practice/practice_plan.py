"""A plan: which tracks, in which order, with rests, and what there was no time for."""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from groove.errors import OptionError
from groove.events import Performance
from groove.practice.exercises import Exercise, ExerciseKind
from groove.practice.ladder import Ladder
from groove.practice.track import DropOut, PracticeTrack, Sounding, make_track
from groove.text.counts import counted

LONGEST_STRETCH_SEC = 25 * 60
REST_SEC = 5 * 60
"""Alone, five minutes after twenty-five (G. Klickstein, *The Musician's Way*,
p. 75, and its site, 2011; ten in an hour also J. Horvath, *Playing (Less) Hurt*)."""


class Rest(Struct, frozen=True):
    """Time away from the instrument, before the track after it."""

    sec: int = REST_SEC


PlanStep = PracticeTrack | Rest


class PracticePlan(Struct, frozen=True, kw_only=True):
    """What is practised, in order.

    ``song_bpm`` is the song's tempo in its own beat, ``tempo_symbol`` that beat as a sign;
    ``left_out`` are the exercises for which ``minutes`` had no time (None where no limit was
    asked for), each with the seconds that its tracks would take; ``drop_out`` is where the click
    falls silent, None where it does not.
    """

    title: str
    song_bpm: Fraction
    tempo_symbol: str
    steps: tuple[PlanStep, ...]
    minutes: int | None = None
    left_out: tuple[tuple[Exercise, float], ...] = ()
    drop_out: DropOut | None = None

    @property
    def tracks(self) -> tuple[PracticeTrack, ...]:
        """The tracks, in order."""
        return tuple(step for step in self.steps if isinstance(step, PracticeTrack))

    @property
    def playing_sec(self) -> float:
        """How long is played, in seconds: the sum of the tracks."""
        return sum(track.sec for track in self.tracks)

    @property
    def rest_sec(self) -> int:
        """How long is rested, in seconds."""
        return sum(step.sec for step in self.steps if isinstance(step, Rest))

    @property
    def total_sec(self) -> float:
        """How long it all takes, in seconds."""
        return self.playing_sec + self.rest_sec

    def tempo_bpm(self, track: PracticeTrack) -> Fraction:
        """Return the tempo of a track in the song's own beat."""
        return self.song_bpm * track.percent / 100


def exercise_tracks(
    exercise: Exercise,
    ladder: Ladder,
    song_bpm: Fraction,
    played_at: Callable[[Fraction], Performance],
    sounding: Sounding,
) -> list[PracticeTrack]:
    """Return an exercise up its ladder; the whole song has the top of the ladder alone.

    ``played_at`` gives the whole song at a percentage of its tempo.
    """
    percents = ladder.percents(song_bpm)
    times = ladder.times or exercise.usual_times
    if exercise.kind is ExerciseKind.SONG:
        percents = percents[-1:]
    return [
        piece
        for percent in percents
        for piece in _stretches(make_track(exercise, played_at(percent), percent, times, sounding))
    ]


def _stretches(track: PracticeTrack) -> Iterator[PracticeTrack]:
    """Yield a track in as many as it needs to leave room for rests; a pass stays whole."""
    first, sec = 0, 0.0
    lengths = [one.length_sec for one in track.passes]
    for number, length in enumerate(lengths):
        if number > first and sec + length > LONGEST_STRETCH_SEC:
            yield replace(track, passes=track.passes[first:number], first_pass=1 + first)
            first, sec = number, 0.0
        sec += length
    yield replace(track, passes=track.passes[first:], first_pass=1 + first)


def with_rests(tracks: Sequence[PracticeTrack]) -> tuple[PlanStep, ...]:
    """Return the tracks with a rest before each that would make a stretch of playing too long."""
    steps: list[PlanStep] = []
    since_rest_sec = 0.0
    for track in tracks:
        if since_rest_sec and since_rest_sec + track.sec > LONGEST_STRETCH_SEC:
            steps.append(Rest())
            since_rest_sec = 0.0
        steps.append(track)
        since_rest_sec += track.sec
    return tuple(steps)


def fitted(
    plan: PracticePlan, ladders: Sequence[Sequence[PracticeTrack]], minutes: int | None
) -> PracticePlan:
    """Return a plan with the tracks of each exercise, the most wanted first, in ``minutes``.

    Rests count.  An exercise that has no room is left out whole, and a shorter one after it may
    still have some.  Raises OptionError where there is room for none.
    """
    kept: list[PracticeTrack] = []
    left_out: list[tuple[Exercise, float]] = []
    for tracks in ladders:
        steps = with_rests([*kept, *tracks])
        if minutes is not None and replace(plan, steps=steps).total_sec > 60 * minutes:
            left_out.append((tracks[0].exercise, sum(track.sec for track in tracks)))
        else:
            kept += tracks
    if not kept:
        shortest = min(sec for _, sec in left_out)
        raise OptionError(
            f"nothing fits into {counted(minutes or 0, 'minute')}",
            hint=f"the shortest takes {shortest / 60:.1f}: more --minutes, or a shorter ladder "
            "with --from, --step and --times",
        )
    return replace(plan, steps=with_rests(kept), minutes=minutes, left_out=tuple(left_out))
