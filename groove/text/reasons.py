"""Why a note is what it is, in a player's words."""

from collections.abc import Callable

from groove.events import Origin, PitchRule, Reason
from groove.theory.pitch import pitch_name

_STEPS = {1: "half step", 2: "whole step"}


def reason_text(origin: Origin) -> str:
    """Return what a note's role leaves open, as ``half step below G1``; empty where nothing is.

    Pitches have the octave numbers in which middle C is C4.
    """
    if origin.pushed_ticks:
        return "pushed"
    if origin.reason is None:
        return ""
    target = origin.target_pitch
    return _WORDS[origin.reason.rule](origin.reason, "" if target is None else pitch_name(target))


def _approach(reason: Reason, goal: str) -> str:
    """Return by which step a note leads to its goal; from farther away it is part of a run."""
    below = reason.interval < 0
    size = _STEPS.get(abs(reason.interval))
    if size is None:
        return f"run {'up' if below else 'down'} to {goal}"
    return f"{size} {'below' if below else 'above'} {goal}"


def _scale_run(reason: Reason, goal: str) -> str:
    return f"scale run {'up' if reason.interval < 0 else 'down'} to {goal}"


def _turnaround(reason: Reason, goal: str) -> str:
    return f"turnaround: {', '.join(reason.figure)}, and down to {goal}"


def _towards(words: str) -> Callable[[Reason, str], str]:
    """Return the maker of words that name the goal where there is one."""
    return lambda _, goal: f"{words}, towards {goal}" if goal else words


_WORDS: dict[PitchRule, Callable[[Reason, str], str]] = {
    PitchRule.EARLY: lambda *_: "early",
    PitchRule.APPROACH: _approach,
    PitchRule.WALKED_INTO: lambda _, goal: f"into {goal}",
    PitchRule.OCTAVE_LOWER: _towards("an octave lower"),
    PitchRule.BACK_IN_CHORD: _towards("back in the chord"),
    PitchRule.SCALE_RUN: _scale_run,
    PitchRule.TONE_AND_STEP: lambda reason, goal: f"approach: {_approach(reason, goal)}",
    PitchRule.CHORD_FIGURE: lambda reason, goal: f"{', '.join(reason.figure)}, to {goal}",
    PitchRule.TURNAROUND: _turnaround,
}
