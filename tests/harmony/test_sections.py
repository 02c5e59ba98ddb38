"""The form: equal and near-equal sections, by the alignment's stated costs (common practice)."""

import pytest

from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.analysis_data import harmony_summary
from groove.harmony.sections import Difference, SongForm, find_form, thins_out
from groove.text.harmony import harmony_text

VERSE = "| D | A | Bm | G |\n| D | A | G | A |"


def form_of(text: str) -> SongForm:
    return find_form(unroll(parse_chart(text)))


def test_equal_sections_under_two_names_are_one_progression() -> None:
    form = form_of(f"verse:\n{VERSE}\nchorus:\n{VERSE}\nform: verse, chorus, verse")
    assert [o.progression for o in form.occurrences] == [0, 0, 0]
    assert all(not o.differs for o in form.occurrences)


def test_a_changed_bar_is_reported_at_its_bar() -> None:
    bars = [row.strip() for row in VERSE.replace("\n", "").replace("||", "|").split("|") if row]
    compared = 0
    for place in range(8):
        changed = [*bars]
        changed[place] = "C#7"
        other = "| " + " | ".join(changed) + " |"
        form = form_of(f"verse:\n{VERSE}\nverse again:\n{other}")
        assert [o.progression for o in form.occurrences] == [0, 0]
        assert form.occurrences[1].differs == (Difference(place + 1, place + 1),)
        compared += 1
    assert compared == 8


def test_a_bar_put_in_is_found_where_it_was_put() -> None:
    form = form_of(f"verse:\n{VERSE}\nlong:\n| D | A | Bm | G | F#m |\n| D | A | G | A |")
    assert form.occurrences[1].differs == (Difference(None, 5),)


def test_other_chords_are_another_progression() -> None:
    form = form_of(f"verse:\n{VERSE}\nbridge:\n| E | C#m | F#m | B |\n| E | B | E | A |")
    assert [o.progression for o in form.occurrences] == [0, 1]


def test_what_is_told_of_the_form() -> None:
    song = parse_chart(
        f"tempo: 60\nverse:\n{VERSE}\nlast verse:\n| D | A | Bm | G |\n| D | A | C | E |\n"
        "breakdown:\n| D | D | D | D |\nform: verse x2, breakdown, last verse"
    )
    text = harmony_text(analyse(song))
    assert "28 bars, 1:52, 2 different progressions" in text  # 112 quarters at one a second
    assert "verse 2: 8 bars, as verse 1\n" in text
    assert "last verse: 8 bars, as verse 1, last two bars differ: C | E\n" in text
    assert "breakdown: 4 bars, thin\n" in text
    assert "after verse: verse, breakdown" in text


def test_thin_sections_by_what_is_left_out() -> None:
    form = form_of("verse:\n| D |\nquiet:\ndrums: out\n| D | E |\nloud:\nloudness: ff\n| A |")
    assert [thins_out(o.bars) for o in form.occurrences] == [False, True, False]


def test_summary_has_the_promised_names() -> None:
    summary = harmony_summary(analyse(parse_chart(f"title: Lamp\nkey: D\nverse:\n{VERSE}")))
    for name in ("title", "key", "key_given", "sections", "progressions", "moves", "chords"):
        assert name in summary
    assert set(summary["key"]) >= {"tonic", "mode", "confidence", "runner_up"}
    assert summary["key"]["tonic"] == "D"
    assert summary["key_given"] == "D major"
    assert len(summary["chords"]) == 8
    assert summary["chords"][2] == {
        "bar": 3,
        "beat": 1,
        "symbol": "Bm",
        "numeral": "vi",
        "number": "6-",
        "function": "tonic",
    }


def test_charts_at_the_edge_do_not_fail() -> None:
    charts = [
        "verse:\n| N.C. |",
        "verse:\n| C |",
        "pickup: 2\nverse:\n| C | N.C. |\nform: verse x99",
        "verse:\n| C5 | G1 | Asus4 | B+ |",
        "meter: 7/8\nverse:\n| Cbm7b5/Fb | B##7 | Ebb |".replace("B##7", "B#7"),
        "verse:\n" + "| C | E | G | B |\n" * 100,
    ]
    for chart in charts:
        summary = harmony_summary(analyse(parse_chart(chart)))
        assert summary["key"]["tonic"]
        assert harmony_text(analyse(parse_chart(chart)))
    assert len(charts) == 6


@pytest.mark.parametrize(("changed", "progressions"), [(3, [0, 0]), (4, [0, 1])])
def test_sections_with_half_of_their_bars_unlike_are_two(
    changed: int, progressions: list[int]
) -> None:
    """Bars of the same roots cost a half: four of eight cost a quarter, but are half of them."""
    bars = ["D", "A", "G", "D", "A", "G", "D", "A"]
    other = [bar + "7" * (place < changed) for place, bar in enumerate(bars)]
    text = f"verse:\n| {' | '.join(bars)} |\nother:\n| {' | '.join(other)} |"
    form = form_of(text)
    assert [occurrence.progression for occurrence in form.occurrences] == progressions
    assert len(form.occurrences[1].differs) == (changed if progressions == [0, 0] else 0)
