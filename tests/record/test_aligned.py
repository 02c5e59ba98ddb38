"""A chart laid along made records, whose bar lines are the tempo map that they were rendered by.

How near a bar line must be is what was asked for: half within 40 ms, 95 of 100 within 120 ms; the
tuning within 5 cents.  Whole songs of every kind are in ``tests.benchmarks.bench_align``.
"""

import numpy
import pytest
from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.record.aligned import align_record
from groove.record.heard_form import confidence, heard_form, heard_sections, is_as_given, tempo_bpm
from groove.record.listened import listen
from tests.record.made_records import MadeRecord, Studio, made_record
from tests.record.songs import COPPER_KETTLE, GRAVEL_YARD, due, heard

FORM = "form: verse, chorus, verse, chorus"
STUDIO = Studio(seed=3, feel="soul", cents=-23, lead_in_sec=3.5, after_sec=4.0)
OTHER = Studio(seed=4, feel="octaves", tempo_percent=93, cents=12)


def errors_ms(chart: str, record: MadeRecord) -> list[float]:
    """Return how far each bar line is off, for a record with the chart's own form."""
    found = heard(chart, record)
    assert [one.index for one in found.bars] == list(range(len(record.bar_secs)))
    return [1000 * abs(one.sec - sec) for one, sec in zip(found.bars, record.bar_secs, strict=True)]


@pytest.mark.parametrize(
    ("chart", "studio"), [(COPPER_KETTLE, STUDIO), (GRAVEL_YARD, OTHER)], ids=["kettle", "yard"]
)
def test_bar_lines_tuning_and_tempo(chart: str, studio: Studio) -> None:
    record = made_record(chart, studio)
    errors = errors_ms(chart, record)
    assert len(errors) == 24
    assert numpy.median(errors) <= 40
    assert numpy.percentile(errors, 95) <= 120
    found = heard(chart, record)
    assert found.is_song and found.semitones == 0
    assert found.tuning_cents == pytest.approx(studio.cents, abs=5)
    # At its end nothing is struck: within half a beat.
    assert abs(found.bars[-1].end_sec - record.end_sec) < 0.27
    assert found.length_sec == pytest.approx(len(record.samples) / 22_050, abs=0.01)
    due_sound, performance = due(chart)
    assert is_as_given(found, performance.bars)
    # The usual bar, by the truth.
    usual = numpy.median(numpy.diff([*record.bar_secs, record.end_sec]))
    assert tempo_bpm(found, performance.bars) == pytest.approx(240 / usual, rel=0.01)
    assert confidence(found) > 0.6
    assert len(due_sound.line_secs) == len(performance.bars) + 1


def test_another_song_is_not_this_one() -> None:
    kettle, yard = made_record(COPPER_KETTLE, STUDIO), made_record(GRAVEL_YARD, OTHER)
    assert not heard(GRAVEL_YARD, kettle).is_song
    assert not heard(COPPER_KETTLE, yard).is_song


@pytest.mark.parametrize(
    ("cost", "reversed_cost", "is_own"),
    [
        (0.555, 0.676, True),
        (0.461, 0.547, True),
        (0.454, 0.556, True),
        (0.583, 0.648, False),
        (0.536, 0.533, False),
        (0.604, 0.662, False),
    ],
)
def test_the_hardest_pairs_that_were_measured(
    cost: float, reversed_cost: float, is_own: bool
) -> None:
    """Made records beside their own chart or another's: which, is how they were made."""
    found = heard(COPPER_KETTLE, made_record(COPPER_KETTLE, STUDIO))
    assert replace(found, cost=cost, reversed_cost=reversed_cost).is_song == is_own
    assert not replace(found, bars=()).is_song


@pytest.mark.parametrize(
    ("form", "studio"),
    [
        ("verse, chorus x2, verse, chorus", Studio(seed=6, feel="soul", lead_in_sec=2.0)),
        ("verse, chorus x2", Studio(seed=6, feel="soul", transpose=1, cents=9)),
    ],
    ids=["one more", "one less, a half step up"],
)
def test_another_form_is_told_as_it_is_played(form: str, studio: Studio) -> None:
    chart = COPPER_KETTLE.replace(FORM, f"form: {form}")
    record = made_record(chart, studio)
    found = heard(COPPER_KETTLE, record)
    assert found.is_song and found.semitones == studio.transpose
    assert found.tuning_cents == pytest.approx(studio.cents, abs=5)
    due_sound, performance = due(COPPER_KETTLE)
    sections = heard_sections(found, performance.bars, due_sound.line_secs.tolist())
    assert heard_form(sections) == form
    assert not is_as_given(found, performance.bars)
    assert parse_chart(chart, source="song").form
    errors = [1000 * abs(b.sec - s) for b, s in zip(found.bars, record.bar_secs, strict=True)]
    assert numpy.median(errors) <= 40
    assert numpy.percentile(errors, 95) <= 120


def test_a_part_of_a_longer_file_keeps_the_files_own_seconds() -> None:
    record = made_record(COPPER_KETTLE, STUDIO)
    part = listen([record.samples]).later_by(1000.0)
    first = 1000.0 + record.bar_secs[0]
    found = align_record(due(COPPER_KETTLE)[0], part, begins_sec=first)
    errors = [
        1000 * abs(b.sec - 1000 - s) for b, s in zip(found.bars, record.bar_secs, strict=True)
    ]
    assert numpy.median(errors) <= 40
    assert found.length_sec == pytest.approx(1000 + len(record.samples) / 22_050, abs=0.01)
