"""A chart laid along made records, whose bar lines are the tempo map that they were rendered by.

How near a bar line must be is what was asked for: half within 40 ms, 95 of 100 within 120 ms; the
tuning within 5 cents.  Whole songs of every kind are in ``tests.benchmarks.bench_align``.
"""

import numpy
import pytest
from msgspec.structs import replace

from groove.record.aligned import align_record
from groove.record.form_edits import EditKind, form_edits
from groove.record.heard_form import confidence, heard_form, heard_sections, is_as_given, tempo_bpm
from groove.record.listened import Listened, listen
from groove.take.working_rate import WORKING_RATE_HZ
from tests.record.made_records import MadeRecord, Studio, made_record
from tests.record.songs import (
    COPPER_KETTLE,
    GRAVEL_YARD,
    due,
    half_step_up,
    heard,
    listened,
    spliced,
)

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


def test_a_tone_is_no_song() -> None:
    """It fits no bar, in either direction: neither may count for the other."""
    time = numpy.arange(20 * WORKING_RATE_HZ) / WORKING_RATE_HZ
    tone = listen([(0.1 * numpy.sin(2 * numpy.pi * 471.1 * time)).astype(numpy.float32)])
    found = align_record(due(COPPER_KETTLE)[0], tone)
    assert not found.is_song and found.likeness == pytest.approx(0, abs=0.05)


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


def played(
    order: list[tuple[int, int]], foreign_at: int = -1
) -> tuple[Listened, list[tuple[int, float]]]:
    """Return a record that plays runs of the kettle's bars, and where each bar begins in it.

    Runs are of bars by index, with an end; eight bars of the yard come before that one of them.
    """
    record, other = made_record(COPPER_KETTLE, STUDIO), made_record(GRAVEL_YARD, OTHER)
    lines = [*record.bar_secs, record.end_sec]
    pieces = [(listened(record), 0.0, lines[0])]
    truth: list[tuple[int, float]] = []
    at_sec = lines[0]
    for number, (first, end) in enumerate(order):
        if number == foreign_at:
            pieces.append((listened(other), other.bar_secs[4], other.bar_secs[12]))
            at_sec += other.bar_secs[12] - other.bar_secs[4]
        pieces.append((listened(record), lines[first], lines[end]))
        truth += [(bar, at_sec + lines[bar] - lines[first]) for bar in range(first, end)]
        at_sec += lines[end] - lines[first]
    pieces.append((listened(record), lines[-1], lines[-1] + 3.0))
    return spliced(pieces), truth


@pytest.mark.parametrize(
    ("order", "semitones", "form"),
    [
        ([(0, 12), (4, 24)], 0, "verse, chorus x2, verse, chorus"),
        ([(0, 12), (16, 24)], 1, "verse, chorus x2"),
    ],
    ids=["one more", "one less, a half step up"],
)
def test_another_form_is_told_as_it_is_played(
    order: list[tuple[int, int]], semitones: int, form: str
) -> None:
    sound, truth = played(order)
    due_sound, performance = due(COPPER_KETTLE)
    found = align_record(due_sound, half_step_up(sound) if semitones else sound)
    assert found.is_song and found.semitones == semitones
    assert found.tuning_cents == pytest.approx(STUDIO.cents, abs=5)
    sections = heard_sections(found, performance.bars, due_sound.line_secs.tolist())
    assert heard_form(sections) == form
    assert not is_as_given(found, performance.bars) and not form_edits(found, performance.bars)
    errors = [1000 * abs(b.sec - sec) for b, (_, sec) in zip(found.bars, truth, strict=True)]
    assert numpy.median(errors) <= 40
    assert numpy.percentile(errors, 95) <= 120


@pytest.mark.parametrize(
    ("order", "foreign_at", "kind", "edited"),
    [
        ([(0, 8), (12, 24)], -1, EditKind.LEFT_OUT, (8, 11)),
        ([(0, 12), (8, 24)], -1, EditKind.AGAIN, (8, 11)),
        ([(0, 12), (12, 24)], 1, EditKind.FOREIGN, None),
    ],
    ids=["four bars cut", "half of a section again", "eight bars of another song"],
)
def test_edits_inside_a_section(
    order: list[tuple[int, int]],
    foreign_at: int,
    kind: EditKind,
    edited: tuple[int, int] | None,
) -> None:
    sound, truth = played(order, foreign_at)
    due_sound, performance = due(COPPER_KETTLE)
    found = align_record(due_sound, sound)
    (edit,) = form_edits(found, performance.bars)
    assert (edit.kind, edit.bars) == (kind, edited)
    assert edit.count == pytest.approx(8 if edited is None else 4, abs=1)
    assert [one.index for one in found.bars] == [bar for bar, _ in truth]
    errors = [1000 * abs(b.sec - sec) for b, (_, sec) in zip(found.bars, truth, strict=True)]
    assert numpy.median(errors) <= 40
    assert numpy.percentile(errors, 90) <= 120
    sections = heard_sections(found, performance.bars, due_sound.line_secs.tolist())
    assert heard_form(sections) == "verse, chorus, verse, chorus"


def test_a_song_in_a_long_file_is_found_and_another_is_not() -> None:
    """A set of songs, each tuned its own way: the yard, again, the kettle, the yard's beginning.

    It is just as long as a file must be to be called long (``groove.record.excerpt``).
    """
    kettle, yard = made_record(COPPER_KETTLE, STUDIO), made_record(GRAVEL_YARD, OTHER)
    one, other = listened(kettle), listened(yard)
    whole, begun = (other, 0.0, other.length_sec), (other, 0.0, 15.0)
    due_sound, _ = due(COPPER_KETTLE)
    pieces = [whole, whole, (one, 0.0, one.length_sec), begun]
    assert sum(end for _, _, end in pieces) > 2.5 * due_sound.line_secs[-1] + 60
    found = align_record(due_sound, spliced(pieces))
    assert found.is_song
    assert found.tuning_cents == pytest.approx(STUDIO.cents, abs=5)
    assert found.length_sec == pytest.approx(sum(end for _, _, end in pieces), abs=0.01)
    before = 2 * other.length_sec
    assert [bar.index for bar in found.bars] == list(range(24))
    errors = [abs(b.sec - before - s) for b, s in zip(found.bars, kettle.bar_secs, strict=True)]
    assert numpy.median(errors) <= 0.04
    assert not align_record(due_sound, spliced([whole, whole, whole, begun])).is_song


def test_a_part_of_a_longer_file_keeps_the_files_own_seconds() -> None:
    record = made_record(COPPER_KETTLE, STUDIO)
    part = listened(record).later_by(1000.0)
    first = 1000.0 + record.bar_secs[0]
    found = align_record(due(COPPER_KETTLE)[0], part, begins_sec=first)
    errors = [
        1000 * abs(b.sec - 1000 - s) for b, s in zip(found.bars, record.bar_secs, strict=True)
    ]
    assert numpy.median(errors) <= 40
    assert found.length_sec == pytest.approx(1000 + len(record.samples) / 22_050, abs=0.01)
