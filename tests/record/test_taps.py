"""Taps along with a record: bar lines within what the hand strayed by, which is drawn here."""

from pathlib import Path

import numpy
import pytest

from groove.errors import OptionError
from groove.events import Performance
from groove.io.taps import read_taps
from groove.record.aligned import HeardSong
from groove.record.heard_bar import HeardBar
from groove.record.tapped import TAPPED_CONFIDENCE, tapped_lines, tapped_song
from tests.record.songs import COPPER_KETTLE, performed

CHARTS = {
    "four": COPPER_KETTLE,
    "pickup": COPPER_KETTLE.replace("verse:", "pickup: 1\nverse:", 1),
    "seven": "tempo: 120\nmeter: 7/8\nverse:\n| Em | C | D | Em |\nform: verse x3\n",
    "compound": "tempo: 60\nmeter: 6/8\nverse:\n| C | G | (9/8) F | C |\nform: verse x3\n",
}


def truth(performance: Performance, by: str) -> tuple[list[float], list[float]]:
    """Return bar lines a tenth slower than the chart, and the taps that a machine would make."""
    second = performance.tempo_map.tick_to_sec
    lines = [3.0 + 1.1 * second(bar.start_tick) for bar in performance.bars]
    lines.append(3.0 + 1.1 * second(performance.end_tick))
    if by == "bars":
        return lines, [
            line
            for line, bar in zip(lines, performance.bars, strict=False)
            if not bar.ref.is_pickup
        ]
    ticks = [
        tick
        for bar in performance.bars
        if not bar.ref.is_pickup
        for tick in range(bar.start_tick, bar.end_tick, bar.meter.pulse_ticks)
    ]
    return lines, [3.0 + 1.1 * second(tick) for tick in ticks]


@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS.keys())
@pytest.mark.parametrize("by", ["beats", "bars"])
def test_taps_alone_are_within_their_own_error(chart: str, by: str) -> None:
    performance = performed(chart)
    lines, taps = truth(performance, by)
    stray = numpy.random.default_rng(2).uniform(-0.03, 0.03, len(taps))
    found = tapped_lines((numpy.array(taps) + stray).tolist(), performance)
    assert len(found) == len(lines)
    first = 1 if performance.bars[0].ref.is_pickup else 0
    assert max(abs(numpy.array(found) - lines)[first:-1]) <= 0.03
    # Pickup and end are counted on from the taps beside them.
    assert abs(found[0] - lines[0]) < 0.06 and abs(found[-1] - lines[-1]) < 0.2


def test_taps_of_some_bars_leave_the_others_as_they_are_heard() -> None:
    bars = [
        HeardBar(index=n, sec=2.0 * n, end_sec=2.0 * n + 2, confidence=0.4, follows=True)
        for n in range(6)
    ]
    heard = HeardSong(
        bars=tuple(bars), semitones=1, tuning_cents=5, length_sec=20, cost=0.3, reversed_cost=0.6
    )
    found = tapped_song((0.1, 2.1, 4.1), heard, tuning_cents=5, length_sec=20)
    assert [one.sec for one in found.bars] == [0.1, 2.1, 4.1, 6.0, 8.0, 10.0]
    assert [one.end_sec for one in found.bars] == [2.1, 4.1, 6.0, 8.0, 10.0, 12.0]
    assert [one.confidence for one in found.bars] == [TAPPED_CONFIDENCE] * 2 + [0.4] * 4
    assert (found.semitones, found.tuning_cents) == (1, 5)


def test_taps_that_are_none() -> None:
    performance = performed(COPPER_KETTLE)
    with pytest.raises(OptionError, match="--taps has 3 of them"):
        tapped_lines([1.0, 2.0, 3.0], performance)
    with pytest.raises(OptionError, match="--taps goes back at 2"):
        tapped_lines([1.0, 2.5, 2.0, 4.0], performance)


def test_a_file_of_taps(tmp_path: Path) -> None:
    file = tmp_path / "taps.txt"
    file.write_text("# by the space bar\n1.25\n2.5 3.75  # two\n\n", encoding="utf-8")
    assert read_taps(file) == (1.25, 2.5, 3.75)
    for text, told in (("1.0\n-2\n", "taps.txt:2: no second: '-2'"), ("nan", "no second: 'nan'")):
        file.write_text(text, encoding="utf-8")
        with pytest.raises(OptionError, match=told):
            read_taps(file)
    file.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(OptionError, match=r"cannot read the taps in .*: it is no text"):
        read_taps(file)
    file.write_bytes(b"1\n" * 600_000)
    with pytest.raises(OptionError, match="is larger than a megabyte"):
        read_taps(file)
    with pytest.raises(OptionError, match=r"cannot read the taps in .*: No such file"):
        read_taps(tmp_path / "none.txt")
