"""Why a note has its pitch, in a player's words, spelt out by hand."""

import pytest

from groove.bar_place import BarRef
from groove.events import Origin, PitchRule, Reason, Role
from groove.text.reasons import reason_text

REF = BarRef(
    section="verse", occurrence=1, pass_number=1, bar_in_section=1, written_bar=1, played_bar=1
)
NINTH = (Role.ROOT, Role.FIFTH, Role.NINTH, Role.OCTAVE)
SIXTH = (Role.OCTAVE, Role.SIXTH, Role.FIFTH)
WORDS = [
    (Reason(PitchRule.EARLY), None, "early"),
    (Reason(PitchRule.APPROACH, -1), 31, "half step below G1"),
    (Reason(PitchRule.APPROACH, 2), 31, "whole step above G1"),
    (Reason(PitchRule.APPROACH, -3), 31, "run up to G1"),
    (Reason(PitchRule.APPROACH, 3), 31, "run down to G1"),
    (Reason(PitchRule.WALKED_INTO, -1), 33, "into A1"),
    (Reason(PitchRule.OCTAVE_LOWER), 33, "an octave lower, towards A1"),
    (Reason(PitchRule.OCTAVE_LOWER), None, "an octave lower"),
    (Reason(PitchRule.BACK_IN_CHORD), 33, "back in the chord, towards A1"),
    (Reason(PitchRule.SCALE_RUN, -2), 33, "scale run up to A1"),
    (Reason(PitchRule.SCALE_RUN, 1), 33, "scale run down to A1"),
    (Reason(PitchRule.TONE_AND_STEP, 1), 33, "approach: half step above A1"),
    (Reason(PitchRule.CHORD_FIGURE, figure=NINTH), 33, "root, fifth, ninth, octave, to A1"),
    (
        Reason(PitchRule.TURNAROUND, 2, SIXTH),
        33,
        "turnaround: octave, sixth, fifth, and down to A1",
    ),
]


@pytest.mark.parametrize(("reason", "target", "words"), WORDS)
def test_a_reason_in_words(reason: Reason, target: int | None, words: str) -> None:
    origin = Origin(bar=REF, cell="", role=Role.FILL, reason=reason, target_pitch=target)
    assert reason_text(origin) == words


def test_every_rule_has_its_words_here() -> None:
    assert {reason.rule for reason, _, _ in WORDS} == set(PitchRule)


def test_a_role_that_says_all_has_no_words_and_a_push_comes_first() -> None:
    plain = Origin(bar=REF, cell="", role=Role.ROOT)
    pushed = Origin(
        bar=REF, cell="", role=Role.ROOT, pushed_ticks=480, reason=Reason(PitchRule.EARLY)
    )
    assert [reason_text(plain), reason_text(pushed)] == ["", "pushed"]
