"""A plan in words, for a terminal, and as data."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from msgspec import Struct

from groove.practice.exercises import Exercise, ExerciseKind
from groove.practice.practice_plan import PlanStep, PracticePlan, Rest
from groove.practice.track import PracticeTrack
from groove.text.counts import clock_text, counted

REST_WORDS = "rest, away from the instrument, arms loose"
LEFT_OUT_HEAD = "left out, for want of time"


def _short_number(number: Fraction) -> str:
    """Return a tempo or a percentage with one decimal at the most: ``55.2``, ``60``."""
    return f"{float(number):.1f}".removesuffix(".0")


def exercise_name(exercise: Exercise) -> str:
    """Return what an exercise is called: its section, else its bars by the chart's numbers."""
    if exercise.kind is ExerciseKind.SONG:
        return "whole song"
    if exercise.kind is ExerciseKind.SECTION:
        return exercise.sections[0]
    if len(exercise.bars) == 1:
        return f"bar {exercise.first_bar}"
    if exercise.is_one_run:
        return f"bars {exercise.first_bar}-{exercise.last_bar}"
    if len(exercise.bars) == 2:
        return f"bars {exercise.first_bar} and {exercise.last_bar}"
    return ", ".join(exercise.sections)


def exercise_reason(exercise: Exercise) -> str:
    """Return why an exercise is played, empty where its name says it."""
    shift = exercise.shift
    if shift:
        return (
            f"the hand goes from fret {shift.from_fret} to {shift.to_fret} "
            f"in {shift.time_ms / 1000:.2f} s"
        )
    if exercise.kind is ExerciseKind.FILL:
        way = f"the way from {exercise.sections[0]} into {exercise.into}"
        return way if exercise.into else "the fill"
    if exercise.kind is ExerciseKind.LOOP and exercise.is_one_run:
        return ", ".join(exercise.sections)
    return ""


def track_name(plan: PracticePlan, track: PracticeTrack) -> str:
    """Return what a track is called: ``bars 5-6 at 55.2``."""
    return f"{exercise_name(track.exercise)} at {_short_number(plan.tempo_bpm(track))}"


class PlanRow(Struct, frozen=True, kw_only=True):
    """A line of a plan for people: an exercise with its tempi, or a rest (``number`` 0).

    ``tracks`` are the numbers of its tracks in the plan, from 1.
    """

    number: int
    name: str
    reason: str
    how: str
    sec: float
    tracks: range = range(0)


def plan_rows(plan: PracticePlan) -> list[PlanRow]:
    """Return the lines of a plan; an exercise with a rest inside has two."""
    rows: list[PlanRow] = []
    numbers: dict[Exercise, int] = {}
    next_track = 1
    for exercise, run in groupby(plan.steps, key=_exercise_of):
        steps = list(run)
        if exercise is None:
            rest = sum(step.sec for step in steps)
            rows.append(PlanRow(number=0, name=REST_WORDS, reason="", how="", sec=rest))
            continue
        tracks = [step for step in steps if isinstance(step, PracticeTrack)]
        first, next_track = next_track, next_track + len(tracks)
        rows.append(
            PlanRow(
                number=numbers.setdefault(exercise, 1 + len(numbers)),
                name=exercise_name(exercise),
                reason=exercise_reason(exercise),
                how=_how(plan, tracks),
                sec=sum(track.sec for track in tracks),
                tracks=range(first, next_track),
            )
        )
    return rows


def _exercise_of(step: PlanStep) -> Exercise | None:
    return None if isinstance(step, Rest) else step.exercise


def _how(plan: PracticePlan, tracks: Sequence[PracticeTrack]) -> str:
    """Return how often and how fast: ``4 times each at 55.2, 64.4, 73.6``."""
    tempi = list(dict.fromkeys(_short_number(plan.tempo_bpm(track)) for track in tracks))
    times = tracks[0].times
    often = {1: "once", 2: "twice"}.get(times, f"{times} times")
    each = " each" if len(tempi) > 1 else ""
    return f"{often}{each} at {plan.tempo_symbol} = {', '.join(tempi)}"


def total_text(plan: PracticePlan) -> str:
    """Return how long it takes: ``19:42, of it 5:00 of rest``."""
    rest = f", of it {clock_text(plan.rest_sec)} of rest" if plan.rest_sec else ""
    limit = f" of {counted(plan.minutes, 'minute')}" if plan.minutes else ""
    return f"{clock_text(plan.total_sec)}{limit}{rest}"


def click_text(plan: PracticePlan) -> str:
    """Return where the click falls silent, empty where it does not."""
    if plan.drop_out is None:
        return ""
    silent, cycle = plan.drop_out.silent_bars, plan.drop_out.cycle_bars
    last = "bar" if silent == 1 else f"{silent} bars"
    return f"no click in the last {last} of every {cycle}"


def left_out_words(plan: PracticePlan) -> list[tuple[str, str]]:
    """Return what was left out and how long it would take."""
    return [
        (", ".join(filter(None, (exercise_name(one), exercise_reason(one)))), clock_text(sec))
        for one, sec in plan.left_out
    ]


def plan_text(plan: PracticePlan) -> str:
    """Return a plan for a terminal."""
    return "\n".join(_plan_lines(plan)) + "\n"


def _plan_lines(plan: PracticePlan) -> Iterator[str]:
    yield f"{plan.title}: {total_text(plan)}"
    if plan.drop_out:
        yield click_text(plan)
    yield ""
    for row in plan_rows(plan):
        number = f"{row.number:2}" if row.number else "  "
        name = ", ".join(filter(None, (row.name, row.reason)))
        yield f"{number}  {clock_text(row.sec):>5}  {name}"
        if row.how:
            yield f"           {row.how}"
    if plan.left_out:
        yield ""
        yield f"{LEFT_OUT_HEAD}:"
        for name, length in left_out_words(plan):
            yield f"    {length:>5}  {name}"


def plan_data(plan: PracticePlan) -> dict[str, object]:
    """Return a plan as plain data; lengths are in seconds."""
    return {
        "title": plan.title,
        "tempo_bpm": round(float(plan.song_bpm), 2),
        "minutes": plan.minutes,
        "playing_sec": round(plan.playing_sec, 3),
        "rest_sec": plan.rest_sec,
        "total_sec": round(plan.total_sec, 3),
        "drop_out": plan.drop_out and [plan.drop_out.silent_bars, plan.drop_out.cycle_bars],
        "steps": [_step_data(plan, step) for step in plan.steps],
        "left_out": [
            {**_exercise_data(exercise), "sec": round(sec, 3)} for exercise, sec in plan.left_out
        ],
    }


def _step_data(plan: PracticePlan, step: PlanStep) -> dict[str, object]:
    if isinstance(step, Rest):
        return {"rest_sec": step.sec}
    return {
        "track": 1 + plan.tracks.index(step),
        **_exercise_data(step.exercise),
        "percent": round(float(step.percent), 2),
        "tempo_bpm": round(float(plan.tempo_bpm(step)), 2),
        "times": step.times,
        "first_pass": step.first_pass,
        "passes": len(step.passes),
        "sec": round(step.sec, 3),
    }


def _exercise_data(exercise: Exercise) -> dict[str, object]:
    return {
        "name": exercise_name(exercise),
        "kind": str(exercise.kind),
        "reason": exercise_reason(exercise),
        "bars": [exercise.first_bar, exercise.last_bar],
        "sections": list(exercise.sections),
    }
