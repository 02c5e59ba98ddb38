"""How sure bar lines are that stand where the truth has them, and that stand elsewhere.

What is asked for: of bars that are right 80 of 100 are called sure, of bars more than 120 ms off
90 of 100 unsure; by records of every kind in ``tests.benchmarks.bench_align``.
"""

import numpy
import pytest

from groove.record.bar_lines import Sounds
from groove.record.due_sound import heard_harmony
from groove.record.heard_form import SURE_FROM
from groove.record.sureness import line_sureness
from tests.record.made_records import Studio, made_record
from tests.record.songs import COPPER_KETTLE, GRAVEL_YARD, due, listened
from tests.record.test_aligned import OTHER, STUDIO


@pytest.mark.parametrize(
    ("chart", "studio"), [(COPPER_KETTLE, STUDIO), (GRAVEL_YARD, OTHER)], ids=["kettle", "yard"]
)
def test_right_lines_are_sure_and_wrong_ones_are_not(chart: str, studio: Studio) -> None:
    record = made_record(chart, studio)
    sound, due_sound = listened(record), due(chart)[0]
    song = Sounds(harmony=due_sound.harmony, rises=due_sound.rises)
    heard = Sounds(harmony=heard_harmony(sound), rises=sound.rises)
    truth = numpy.array([*record.bar_secs, record.end_sec])
    for off_sec in (-0.27, -0.15, 0.0, 0.15, 0.27):
        sure = line_sureness(song, heard, due_sound.line_secs, truth + off_sec)[:-1] >= SURE_FROM
        assert len(sure) == 24
        assert sure.mean() >= 0.8 if off_sec == 0 else sure.mean() <= 0.1
