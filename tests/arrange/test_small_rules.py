"""Rules that whole lines seldom show: the wrong third, ticks of odd beats, notes in order."""

from fractions import Fraction

import pytest
from msgspec.structs import replace

from groove.arrange.anchors import in_its_own_chord
from groove.arrange.candidates import Context, StrokeTask, candidates
from groove.arrange.cell_grid import Grid
from groove.arrange.degree_tones import aim_semitones, fifth_offset, wrong_third
from groove.arrange.drafts import STEP_AIM
from groove.arrange.fills import plan_fills
from groove.arrange.weights import WEIGHTS
from groove.cells.model import Aim, AimKind, DrumStroke
from groove.cells.tokens import parse_token
from groove.chart.parse import parse_chart
from groove.neck.instrument import STANDARD
from groove.pipeline import analyse_song, plan_analysis
from groove.theory.chords import parse_chord
from groove.theory.keys import parse_key
from groove.timing import Meter
from tests.arrange.songs import LIBRARY, chart, play


@pytest.mark.parametrize(
    ("symbol", "pitch_class"),
    [("C", 3), ("Cm", 4), ("A7", 0), ("F#m7", 10), ("C5", 3), ("D5", 6), ("C7#9", None)],
)
def test_the_third_that_a_chord_has_not(symbol: str, pitch_class: int | None) -> None:
    """Minor over major and major over minor; a raised ninth is the chord's own (theory).

    A power chord is heard with the third of the key: E over C, F over D in C major.
    """
    assert wrong_third(parse_chord(symbol), parse_key("C")) == pitch_class


def test_what_leads_nowhere_is_the_root_or_where_the_side_is_open_the_fifth() -> None:
    """Design 4: without a change of root ``>+1`` falls back to ``R``, ``>*`` to ``5``."""
    written = Aim(kind=AimKind.NEXT, offset=1)
    assert [in_its_own_chord(aim).number for aim in (written, STEP_AIM)] == [1, 5]


def test_an_octave_with_a_sign_counts_from_the_octave() -> None:
    """Design 4: what has a sign is counted from the root's major scale, so ``b8`` is 11 up."""
    aim = parse_token("b8")
    assert aim is not None
    assert aim_semitones(aim, parse_chord("C"), parse_key("C")) == 11


def test_an_altered_fifth_stands_for_the_one_that_is_left_out() -> None:
    """A lowered thirteenth sounds as a raised fifth, a raised eleventh as a lowered one."""
    found = [fifth_offset(parse_chord(name)) for name in ("C7b13no5", "C7#11no5", "C7b13")]
    assert found == [8, 6, 7]


def test_nobody_fills_into_a_stop() -> None:
    """A fill leads to a beat that the band plays (common practice, no source)."""
    for head, filled in (("(stop) D", []), ("D", [4])):
        song = parse_chart(f"key: D\nfills: few\nverse:\n| D | G | A | D |\nend:\n| {head} | D |\n")
        fills = plan_fills(plan_analysis(analyse_song(song), LIBRARY))
        assert sorted(index + 1 for index in {*fills.bass, *fills.drums}) == filled


def test_a_walk_stays_within_two_octaves_of_the_lowest_string() -> None:
    """Up to E3, the ninth fret of the highest string, from any root (common practice, no source).

    Over F in its higher place (41) the A below (33) is more than a fifth down, the C above E3 out.
    """
    context = Context(
        chord=parse_chord("F"),
        key=parse_key("F"),
        target=None,
        tuning=STANDARD,
        weights=WEIGHTS,
        lift=12,
    )
    beat = StrokeTask(Aim(kind=AimKind.WALK), beat=2, left=2, is_strong=True, head=41)
    assert sorted({each.pitch for each in candidates(beat, context)}) == [36, 41, 45, 48]
    between = replace(beat, beat=3, is_strong=False)
    assert max(each.pitch for each in candidates(between, context)) == 52


def test_a_septuplet_lies_on_the_nearest_tick() -> None:
    # 960 / 7 is 137.14: the fourth to the sixth seventh are 548.57, 685.71 and 822.86.
    strokes = tuple(
        DrumStroke(step=n, start_beats=Fraction(n, 7), key="snare", level=5) for n in range(4, 7)
    )
    laid = Grid().lay(strokes, Meter(4, 4), Meter(4, 4))
    assert [start for start, _, _ in laid] == [549, 686, 823]


def test_a_performance_refuses_notes_out_of_order() -> None:
    performance = play(chart({"verse": ["D", "G"]}, feel="ballad"))
    later, sooner = performance.notes[-1], performance.notes[0]
    assert later.onset_tick > sooner.onset_tick
    with pytest.raises(ValueError, match="not sorted"):
        replace(performance, notes=(later, sooner))
    # Of two that begin together the lower stands first.
    upper = replace(sooner, pitch=sooner.pitch + 1)
    with pytest.raises(ValueError, match="not sorted"):
        replace(performance, notes=(upper, sooner))
    assert len(replace(performance, notes=(sooner, upper)).notes) == 2
