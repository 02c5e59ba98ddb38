"""What the strokes between two anchors ask for, each with what stands around it."""

from collections.abc import Sequence

from groove.arrange.anchors import in_its_own_chord
from groove.arrange.candidates import Ask
from groove.arrange.strokes import Draft
from groove.cells.model import AimKind


def asks_of(between: Sequence[Draft], *, leads_to_fill: bool) -> list[Ask]:
    """Return what the strokes between two anchors ask for, and where each stands."""
    asks: list[Ask] = []
    left = 0
    for draft in reversed(between):
        aim = draft.aim
        assert aim is not None
        if aim.kind is AimKind.NEXT and leads_to_fill:
            aim = in_its_own_chord(aim)
        is_led = aim.kind in (AimKind.NEXT, AimKind.WALK)
        follows = asks[-1].aim.kind if asks else None
        left = left + 1 if is_led and follows is aim.kind else 0
        asks.append(Ask(aim, left))
    asks.reverse()
    return [_placed(asks, i, between) for i in range(len(asks))]


def _placed(asks: Sequence[Ask], i: int, between: Sequence[Draft]) -> Ask:
    """Return an ask with what it has to do with those before it."""
    ask, before = asks[i], asks[i - 1] if i else None
    if ask.aim.kind is AimKind.WALK:
        return ask._replace(beat=i + 1, is_strong=i % 2 == 1)
    if ask.aim.kind is AimKind.NEXT:
        in_run = before is not None and before.aim.kind is AimKind.NEXT
        return ask._replace(is_run=ask.left > 0 or in_run)
    after = asks[i + 1] if i + 1 < len(asks) else None
    leads_alone = after is not None and after.aim.kind is AimKind.NEXT and after.left == 0
    return ask._replace(
        again=before is not None and before.aim == ask.aim,
        goal=between[i + 1].target_pitch if leads_alone else None,
    )
