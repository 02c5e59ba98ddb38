"""What the time is kept on: closed hat, half-open hat, ride or its bell, as the section asks.

A drummer's ``hat`` row is the stick that keeps time: it moves to the ride for a chorus, and the
foot plays the hat on the backbeat meanwhile.  Common practice, no source.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from msgspec.structs import replace

from groove.arrange.arrangement import Cymbal
from groove.arrange.drum_strokes import FOOT_LEVEL, ON_HAT, STRONG_LEVEL, Stroke, is_soft
from groove.arrange.plan import BarPlan, Plan
from groove.cells.model import DrumCell
from groove.timing import EIGHTH_TICKS

_RIDE_KEYS = {"hat": "ride", "open_hat": "ride_bell"}


def on_cymbal(strokes: Sequence[Stroke], bar: BarPlan, cell: DrumCell) -> list[Stroke]:
    """Return a bar's strokes with the time on the cymbal that the plan asks for.

    A player's own rows stay where they are, and so does a time that is not on the hat.
    """
    cymbal = bar.arrangement.cymbal
    is_on_hat = any(stroke.key == "hat" for stroke in strokes)
    if cell.as_written or cymbal is Cymbal.CLOSED_HAT or not is_on_hat:
        return list(strokes)
    if cymbal is Cymbal.HALF_OPEN_HAT:
        return list(strokes) if is_soft(bar) else _half_open(strokes, bar)
    return list(_on_ride(strokes, bar, is_bell=cymbal is Cymbal.BELL and not is_soft(bar)))


def _half_open(strokes: Sequence[Stroke], bar: BarPlan) -> list[Stroke]:
    """Return strokes with the hat opened on each beat that another stroke of it closes again."""
    pulse = bar.bar.meter.pulse_ticks
    hats = sorted((stroke for stroke in strokes if stroke.key in ON_HAT), key=lambda s: s.tick)
    opened = set()
    # What the bar ends on is what stands before its head.
    before = "open_hat" if hats[-1].key == "open_hat" else "hat"
    for stroke, after in pairwise(hats):
        on_beat = (stroke.tick - bar.start_tick) % pulse == 0
        is_free = stroke.key == "hat" and "open_hat" not in (before, after.key)
        before = "open_hat" if on_beat and is_free else stroke.key
        if on_beat and is_free:
            opened.add(stroke)
    return [replace(s, key="open_hat") if s in opened else s for s in strokes]


def _on_ride(strokes: Sequence[Stroke], bar: BarPlan, *, is_bell: bool) -> Iterator[Stroke]:
    """Yield strokes with the stick on the ride, in eighths where it ran in sixteenths.

    The bell takes the strong beats, or what the open hat had where it answers them all through.
    """
    pulse = bar.bar.meter.pulse_ticks
    answers = sum(stroke.key == "open_hat" for stroke in strokes) > 1
    strongest = max(stroke.level for stroke in strokes if stroke.key in _RIDE_KEYS)
    for stroke in strokes:
        offset = stroke.tick - bar.start_tick
        key = _RIDE_KEYS.get(stroke.key)
        if key is None:
            yield stroke
        elif bar.in_triplets or offset % EIGHTH_TICKS == 0:
            is_beat = offset % pulse == 0 and stroke.level == strongest
            on_bell = is_bell and not answers and is_beat
            yield replace(stroke, key="ride_bell" if on_bell else key)
    if not any(stroke.key == "pedal_hat" for stroke in strokes):
        for tick in _backbeats(strokes, bar):
            yield Stroke(tick, strokes[0].bar, "pedal_hat", FOOT_LEVEL)


def _backbeats(strokes: Sequence[Stroke], bar: BarPlan) -> Sequence[int]:
    """Return where a bar's backbeat is: the snare's, else every second beat."""
    own = [s.tick for s in strokes if s.key == "snare" and s.level >= STRONG_LEVEL]
    pulse = bar.bar.meter.pulse_ticks
    return own or range(bar.start_tick + pulse, bar.end_tick, 2 * pulse)


def with_closed_hats(bars: Sequence[Sequence[Stroke]], plan: Plan) -> list[list[Stroke]]:
    """Return the strokes of every bar with each open hat closed on the next beat at the latest.

    Where no stick comes to close it the foot does; where the drummer may not, it is not opened.
    """
    found = [list(bar) for bar in bars]
    for index, strokes in enumerate(found):
        opened = [stroke for stroke in strokes if stroke.key == "open_hat"]
        if not opened:
            continue
        after = found[index + 1] if index + 1 < len(found) else []
        hats = sorted((s.tick, s.key) for s in (*strokes, *after) if s.key in ON_HAT)
        for stroke in opened:
            _close(found, plan, index, stroke, hats)
    return found


def _close(
    bars: list[list[Stroke]],
    plan: Plan,
    index: int,
    stroke: Stroke,
    hats: Sequence[tuple[int, str]],
) -> None:
    """Close one open hat of a bar; ``hats`` are the strokes on it in that bar and the next."""
    bar = plan.bars[index]
    pulse = bar.bar.meter.pulse_ticks
    beat = bar.start_tick + ((stroke.tick - bar.start_tick) // pulse + 1) * pulse
    following = next((hat for hat in hats if hat[0] > stroke.tick), (beat + 1, ""))
    home = index + (beat >= bar.end_tick)
    if following[0] <= beat and following[1] != "open_hat":
        return
    has_foot = home < len(bars) and bars[home] and not plan.bars[home].has_hits
    if following[0] > beat and has_foot:
        bars[home].append(Stroke(beat, home, "pedal_hat", FOOT_LEVEL))
    else:
        bars[index][bars[index].index(stroke)] = replace(stroke, key="hat")
