"""Where a way through a song may jump, and for how much: between sections, and inside them.

A band that changes a form leaves out or plays again whole sections, or phrases of one; what is
rarer costs more, so that a record which plays the chart as it stands has no edit at all.
"""

from typing import TYPE_CHECKING

from groove.record.due_sound import DueSound
from groove.record.song_path import Doors, Edits, SongMap

if TYPE_CHECKING:
    from groove.arrays import Doubles, Places

PHRASE_SECS = {1: 3.5, 2: 2.4, 4: 2.0, 8: 2.0}
"""What it costs to leave out so many bars of a section, or to play them again, in seconds.

A jump between sections costs ``groove.record.aligned.JUMP_SEC``; so a phrase is a little dearer.
"""
INSIDE_SEC = 1.0
"""What a jump costs more at each end that is inside a section."""


def song_map(due: DueSound, lines: "Places", step_sec: float, *, has_edits: bool) -> SongMap:
    """Return where a way may jump; ``lines`` are the bar lines in steps of ``step_sec``.

    With ``has_edits`` also inside sections.
    """
    import numpy

    starts, ends = lines[:-1], lines[1:] - 1
    if not has_edits:
        ins, outs = starts[due.first_bars], ends[due.last_bars]
        return SongMap(
            bar_starts=starts,
            bar_ends=ends,
            ins=Doors(places=ins, costs=numpy.zeros(len(ins))),
            outs=Doors(places=outs, costs=numpy.zeros(len(outs))),
        )
    inside = numpy.full(len(starts), INSIDE_SEC / step_sec)
    in_costs, out_costs = inside.copy(), inside.copy()
    in_costs[due.first_bars] = 0
    out_costs[due.last_bars] = 0
    return SongMap(
        bar_starts=starts,
        bar_ends=ends,
        ins=Doors(places=starts, costs=in_costs),
        outs=Doors(places=ends, costs=out_costs),
        edits=_edits(due, ends, step_sec),
    )


def _edits(due: DueSound, ends: "Places", step_sec: float) -> Edits:
    """Return the ways to leave bars of a section out, and to play them again."""
    import numpy

    bars = numpy.arange(len(ends))
    section = due.first_bars.searchsorted(bars, side="right")
    sources: list[Places] = []
    costs: list[Doubles] = []
    for count, sec in PHRASE_SECS.items():
        # The bars left out are those before the bar; those played again begin with it.
        for source, first, last in (
            (bars - count - 1, bars - count, bars - 1),
            (bars + count - 1, bars, bars + count - 1),
        ):
            fits = (numpy.minimum(source, first) >= 0) & (numpy.maximum(source, last) < len(bars))
            first, last = first.clip(0, len(bars) - 1), last.clip(0, len(bars) - 1)
            fits &= section[first] == section[last]
            sources.append(ends[source.clip(0, len(bars) - 1)])
            costs.append(numpy.where(fits, sec / step_sec, numpy.inf))
    return Edits(sources=numpy.array(sources), costs=numpy.array(costs))
