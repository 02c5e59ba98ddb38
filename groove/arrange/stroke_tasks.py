"""What the strokes between two anchors ask for, each with what stands around it."""

from collections.abc import Sequence

from groove.arrange.anchors import in_its_own_chord
from groove.arrange.candidates import StrokeTask
from groove.arrange.drafts import Draft
from groove.cells.model import Aim, AimKind
from groove.events import ROOTS, Role
from groove.timing import TICKS_PER_QUARTER


def stroke_tasks(
    between: Sequence[Draft], head: int | None, upcoming: Draft | None
) -> list[StrokeTask]:
    """Return what the strokes between two anchors ask for, and where each stands.

    ``head`` is the pitch of the first anchor, ``upcoming`` the second one.
    """
    leads_to_fill = upcoming is not None and upcoming.role is Role.FILL
    aims = [_aim(draft, leads_to_fill=leads_to_fill) for draft in between]
    tasks: list[StrokeTask] = []
    after: StrokeTask | None = None
    for i in reversed(range(len(aims))):
        aim, before = aims[i], aims[i - 1] if i else None
        left = after.left + 1 if after and after.aim.kind is aim.kind else 0
        if aim.kind is AimKind.WALK:
            after = StrokeTask(aim, left, beat=i + 1, is_strong=i % 2 == 1, head=head)
        elif aim.kind is AimKind.NEXT:
            in_run = before is not None and before.kind is AimKind.NEXT
            after = StrokeTask(aim, left, is_run=left > 0 or in_run)
        else:
            leads = after is not None and after.aim.kind is AimKind.NEXT
            goal = between[i + 1].target_pitch if leads and after and after.left == 0 else None
            is_last = i + 1 == len(aims) and before != aim
            root = _next_root(between[i], upcoming) if is_last else None
            after = StrokeTask(aim, again=before == aim, goal=goal, next_root=root, leads=leads)
        tasks.append(after)
    tasks.reverse()
    return tasks


def _next_root(last: Draft, upcoming: Draft | None) -> int | None:
    """Return the pitch of the next chord's root where a short stroke stands right before it."""
    if upcoming is None or upcoming.role not in ROOTS or upcoming.chord == last.chord:
        return None
    return upcoming.pitch if last.end - last.start < TICKS_PER_QUARTER else None


def _aim(draft: Draft, *, leads_to_fill: bool) -> Aim:
    """Return what a stroke aims at: a fill is no root to lead to."""
    assert draft.aim is not None
    if leads_to_fill and draft.aim.kind is AimKind.NEXT:
        return in_its_own_chord(draft.aim)
    return draft.aim
