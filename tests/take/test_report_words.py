"""Words, plain data and the drawing of a report whose figures are worked out by hand."""

import numpy
import pytest
from msgspec.structs import replace

from groove.take.heard import HeardTake
from groove.take.judgement import TakeReport, judged_take, stands_out
from groove.take.plot import _figure, _points
from groove.take.report import report_text, signed, strip
from groove.take.report_data import report_data
from groove.take.report_html import report_html
from groove.take.statistics import PlaceFigures
from tests.take.played import even_reference, heard_at


@pytest.fixture(scope="module")
def report() -> TakeReport:
    """Return four bars of an even line, the first note 40 ms late, each held for 0.1 s."""
    reference = even_reference(4)
    onsets = [1 + note.sec + (0.04 if at == 0 else 0) for at, note in enumerate(reference.notes)]
    heard = tuple(replace(note, end_sec=note.sec + 0.1) for note in heard_at(onsets))
    return judged_take(reference, HeardTake(notes=heard, length_sec=12))


def test_a_number_has_its_sign_and_nothing_has_none() -> None:
    assert [signed(value) for value in (3.2, -3.2, 0.2, -0.2, 0.0)] == ["+3", "-3", "0", "0", "0"]
    assert signed(-0.04, 1) == "0.0"


def test_a_strip_goes_from_60_ms_early_to_60_ms_late() -> None:
    """41 signs of 3 ms each, the 21st is on the beat; what lies beyond stands at the end."""
    assert strip([-60, 0, 60]) == f".{19 * ' '}.{19 * ' '}."
    assert strip([-30, 45]) == f"{10 * ' '}.{9 * ' '}|{14 * ' '}.{5 * ' '}"
    assert strip([-3, 3, 3]) == f"{19 * ' '}.|:{19 * ' '}"
    assert strip([-61, -90, -300]) == f"#{19 * ' '}|{20 * ' '}"


def test_a_place_is_named_where_it_is_sure_and_heard() -> None:
    """12 ms early is more than the 10 that are heard; sure from two standard errors on."""
    place = PlaceFigures(mean_ms=-12, error_ms=5, root_ms=14, notes=10)
    assert stands_out(place)
    assert not stands_out(replace(place, error_ms=7))
    assert not stands_out(replace(place, mean_ms=-9, error_ms=1))
    assert not stands_out(replace(place, notes=5))


def test_late_is_drawn_above_and_bars_run_to_the_right(report: TakeReport) -> None:
    axes = _figure(report).axes[0]
    low, high = axes.get_ylim()
    assert low < 0 < high
    places, deviations = _points(report)
    # Slots 0 3 4 6 8 10 12 14 of sixteen, bar after bar.
    slots = (0, 3, 4, 6, 8, 10, 12, 14)
    assert places == pytest.approx([bar + slot / 16 for bar in range(4) for slot in slots])
    assert max(deviations) == deviations[0] > 35
    drawn = numpy.asarray(axes.lines[0].get_ydata(), float)
    assert drawn.tolist() == pytest.approx(deviations)


def test_lengths_in_data_are_lengths(report: TakeReport) -> None:
    notes = report_data(report)["notes"]
    assert isinstance(notes, list)
    assert {note["length_s"] for note in notes} == {0.1}


def test_a_page_stands_alone_and_a_name_is_text_in_it(report: TakeReport) -> None:
    """What is markup in a name stands in a page as HTML's entities; names of SVG fetch nothing."""
    html = report_html(report, take="<b>&.wav")
    assert "<b>" not in html
    assert "&lt;b&gt;&amp;.wav" in html
    assert "<svg" in html and "<script" not in html
    assert "http:" not in html.replace("http://www.w3.org", "").replace("http://purl.org", "")


def test_passes_that_are_alike_have_no_steadiest() -> None:
    reference = even_reference(1)
    loop = replace(
        even_reference(4),
        bars=tuple(replace(bar, number=1) for bar in even_reference(4).bars),
    )
    assert len(loop.bars) == 4 * len(reference.bars)
    onsets = [1 + note.sec + 0.004 * (-1) ** at for at, note in enumerate(loop.notes)]
    found = judged_take(loop, HeardTake(notes=heard_at(onsets), length_sec=12))
    assert len(found.figures.passes) == 4
    assert "Pass by pass: no difference that can be told" in report_text(found)
