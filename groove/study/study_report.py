"""What a line is made of, in words: for 80 columns, and point by point for other pages."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from textwrap import wrap

from groove.articulation import GHOST_SEC, GHOST_VELOCITY_SHARE
from groove.cells.conditions import CONDITIONS
from groove.study.hearing_report import hearing_lines
from groove.study.line_cells import BarPattern, StudyCell, bass_cell, steps_row
from groove.study.nearest import Near
from groove.study.note_kinds import NoteKind
from groove.study.result import Study, departures
from groove.study.worth import Worth, worth_practising
from groove.text.counts import counted, numbered_bars, spanned_bars
from groove.text.feel_legend import bass_legend
from groove.theory.pitch import pitch_name

MOST_CELLS = 8
MOST_PLACES = 8
_WIDTH = 80
STUDY_CAUTION = (
    "Slowly first, and rest hands and ears; if anything hurts, ask your teacher or a medical "
    "professional."
)


def study_text(study: Study, practise: Sequence[str] = ()) -> str:
    """Return the report for a terminal; ``practise`` are the commands that loop what is worth it.

    They stand under the report as they are, however long.
    """
    blocks = [
        [f"{study.title}: {size_words(study)}", *head_points(study)],
        _shares(study),
        _cells(study),
        movement_points(study),
        sound_points(study),
    ]
    texts = ["\n".join(folded(block)) for block in blocks if block]
    worth = worth_points(worth_practising(study))
    if worth:
        lines = [*folded(["worth practising:", *(f"  {point}" for point in worth)]), *practise]
        texts.append("\n".join([*lines, *folded([STUDY_CAUTION])]))
    return "\n\n".join([*texts, *_legend(study)]) + "\n"


def folded(lines: Sequence[str]) -> Iterator[str]:
    """Yield lines of at most 80 columns; what goes on stands further in than its beginning."""
    for line in lines:
        inside = " " * (len(line) - len(line.lstrip()) + 2)
        yield from wrap(line, _WIDTH, subsequent_indent=inside, drop_whitespace=True) or [line]


def size_words(study: Study) -> str:
    """Return how long the line is: ``12 bars, 64 notes``."""
    return f"{counted(len(study.bars), 'bar')}, {counted(len(study.notes), 'note')}"


def head_points(study: Study) -> list[str]:
    """Return what was read, how it is swung, and which feels come near."""
    lines = [study.part]
    if study.swing:
        lines.append(f"swing {study.swing}, the middle of {study.pairs} pairs")
    else:
        lines.append(f"even: {study.pairs} pairs of eighths or sixteenths, no swing heard")
    feels = [
        f"{feel.name} ({_apart(feel.distance)}{'' if feel.is_at_tempo else ', at another tempo'})"
        for feel in study.feels
    ]
    heard = hearing_lines(study.hearing, study.bars) if study.hearing else []
    return [*lines, *([f"nearest feels: {', '.join(feels)}"] if feels else []), *heard]


def _apart(distance: float) -> str:
    """Return a distance in words: how many notes of a bar would have to be others."""
    return f"{distance:.1f} notes a bar apart"


# --- notes by chord -----------------------------------------------------------------------------


def share_rows(study: Study) -> list[tuple[str, list[str]]]:
    """Return what the plain notes are in their chords: names of columns, then a row a kind."""
    kinds = [kind for kind in NoteKind if study.shares[kind]]
    if not kinds:
        return []
    columns = ["all", *(f"beat {beat}" for beat in study.beat_shares)]
    rows = [("notes by chord", columns)]
    for kind in kinds:
        values = [study.shares[kind], *(found[kind] for found in study.beat_shares.values())]
        rows.append((kind.value, [_percent(value) for value in values]))
    return rows


def _shares(study: Study) -> list[str]:
    head, *rows = share_rows(study) or [("", [])]
    if not rows:
        return []
    return [
        f"{head[0]:<20}" + "".join(f"{name:>8}" for name in head[1][:7]),
        *(f"  {name:<18}" + "".join(f"{value:>8}" for value in own[:7]) for name, own in rows),
    ]


def _percent(share: float) -> str:
    return f"{100 * share:.0f}%" if share else "."


# --- cells --------------------------------------------------------------------------------------


def _cells(study: Study) -> list[str]:
    """Return the cells that are played most, each as a grid, and what it is near to."""
    lines = [f"cells: {len(study.cells)} different, the most played first"]
    for number, (cell, near) in enumerate(shown_cells(study), 1):
        lines.append(f"  {number}. {cell_place(cell)}")
        lines += [f"     {row}" for row in _grid(cell)]
        lines += [f"     {text}" for text in near_points(near)]
    if len(study.cells) > MOST_CELLS:
        lines.append(f"  and {len(study.cells) - MOST_CELLS} more, in --json")
    return lines if study.cells else []


def shown_cells(study: Study) -> list[tuple[StudyCell, tuple[Near, ...]]]:
    """Return the cells that a report shows, with the known ones that come near."""
    return list(zip(study.cells, study.near, strict=True))[:MOST_CELLS]


def cell_place(cell: StudyCell) -> str:
    """Return how long a cell is, how often and where it comes."""
    length = "2 bars" if len(cell.patterns) > 1 else "a bar"
    return f"{length}, {counted(cell.times, 'time')}: {bars_named(cell.bars)}"


def _grid(cell: StudyCell) -> Iterator[str]:
    """Yield the beats of a cell and its steps under them; without beats where that is too wide."""
    width = max(len(step) for pattern in cell.patterns for step in pattern.steps) + 1
    slots = max(len(pattern.steps) for pattern in cell.patterns)
    if 5 + slots * width > _WIDTH:
        yield from steps_row(cell).split(" | ")
        return
    yield "".join(f"{mark:<{width}}" for mark in beat_marks(cell.patterns[0])).rstrip()
    for pattern in cell.patterns:
        yield "".join(f"{step:<{width}}" for step in pattern.steps).rstrip()


def beat_marks(pattern: BarPattern) -> list[str]:
    """Return for each slot of a bar the beat that it is, empty between the beats."""
    return [
        "" if slot % pattern.slots_per_beat else str(slot // pattern.slots_per_beat + 1)
        for slot in range(len(pattern.steps))
    ]


def bars_named(bars: Sequence[int]) -> str:
    """Return bar numbers, the first of many."""
    numbers = list(dict.fromkeys(bars))
    return numbered_bars(numbers[:MOST_PLACES]) + (" ..." if len(numbers) > MOST_PLACES else "")


def near_points(near: Sequence[Near]) -> Iterator[str]:
    """Yield what the nearest known cell is and in what it differs."""
    for found in near[:1]:
        condition = CONDITIONS.get(found.condition)
        where = f" as played {condition.words}" if condition else ""
        if not found.distance:
            yield f"as the cell {found.name}{where}"
            continue
        yield f"near the cell {found.name}{where} ({_apart(found.distance)})"
        for words, places in (
            ("which strikes also", found.more),
            ("which does not strike", found.less),
            ("which has another note on", found.other),
        ):
            if places:
                yield f"  {words} {_beats(places)}"


def _beats(places: Sequence[tuple[int, Fraction]]) -> str:
    """Return places in bars: ``2.5, 4``, and those of a second bar after it is named."""
    shown = []
    for bar in sorted({bar for bar, _ in places}):
        own = [beat_words(at) for of, at in places if of == bar]
        beats = ", ".join(own[:MOST_PLACES]) + (" ..." if len(own) > MOST_PLACES else "")
        shown.append(beats if bar == 1 else f"{beats} of bar {bar}")
    return "; ".join(shown)


def beat_words(value: Fraction) -> str:
    """Return a beat in a bar: ``2.5``."""
    return f"{round(float(value), 2):g}"


def _legend(study: Study) -> list[str]:
    """Return what the signs of the cells mean, as a block."""
    rows = legend_rows(study)
    width = max((len(sign) for sign, _ in rows), default=0)
    return ["\n".join(["signs:", *(f"  {sign:<{width}}  {said}" for sign, said in rows)])] * bool(
        rows
    )


def legend_rows(study: Study) -> list[tuple[str, str]]:
    """Return the signs of the cells that are shown, and what they mean."""
    shown = [cell for cell, _ in shown_cells(study)]
    cells = [bass_cell(cell, "studied") for cell in shown]
    return bass_legend(cells, "\n".join(map(steps_row, shown)))


# --- where it goes, how it sounds -----------------------------------------------------------------


def movement_points(study: Study) -> list[str]:
    """Return where the line departs from its cells, and how it aims at the next chord."""
    once = departures(study)
    lines = []
    if once and len(once) < len(study.bars):
        lines.append(f"bars that come once: {bars_named(sorted(bar.frame.number for bar in once))}")
    for semitones in (-1, 1, -2, 2):
        found = [each for each in study.approaches if each.semitones == semitones]
        if found:
            step = "a half step" if abs(semitones) == 1 else "a whole step"
            side = "below" if semitones < 0 else "above"
            aims = [f"bar {each.bar} into {each.to}" for each in found]
            lines.append(f"into the next root from {step} {side}: {_first(aims)}")
    runs = [
        f"bar {run.bar}, {counted(run.notes, 'note')} {'up' if run.rises else 'down'} into {run.to}"
        for run in study.runs
    ]
    return [*lines, *([f"runs: {_first(runs, '; ')}"] if runs else [])]


def _first(words: Sequence[str], between: str = ", ") -> str:
    """Return different words in a row, the first of many."""
    different = list(dict.fromkeys(words))
    more = " ..." if len(different) > MOST_PLACES else ""
    return between.join(different[:MOST_PLACES]) + more


def sound_points(study: Study) -> list[str]:
    """Return register, what the hand does, lengths, loudness and ghosts."""
    pitches = study.pitches
    if not pitches:
        return []
    low, middle, high = (
        pitch_name(pitch) for pitch in (pitches[0], pitches[len(pitches) // 2], pitches[-1])
    )
    lines = [f"from {low} to {high}, half of it up to {middle}", *_hand_points(study)]
    if study.lengths:
        lines.append(
            f"{100 * study.lengths.held:.0f}% of the notes are held for most of the time to the "
            f"next one, or of a beat; {100 * study.lengths.short:.0f}% for less than half of it"
        )
    lines += _loudness_points(study)
    if study.ghosts:
        bars = [each.bar.frame.number for each in study.ghosts]
        heard = (
            f"under {GHOST_SEC * 1000:.0f} ms and {GHOST_VELOCITY_SHARE * 100:.0f}% of the notes "
            "beside them"
        )
        told = "much softer than the notes beside them, by ear" if study.hearing else "so written"
        why = told if study.has_stated_ghosts else heard
        lines.append(f"{counted(len(study.ghosts), 'ghost')} ({why}): {bars_named(bars)}")
    return lines


def _hand_points(study: Study) -> Iterator[str]:
    """Yield how the hand moves, as our own fingering has it."""
    if study.hand is None:
        yield "no tuning of ours has all of its notes under one hand"
        return
    hard = [shift for shift in study.hand.shifts if shift.is_hard]
    shifts = counted(len(study.hand.shifts), "hand shift")
    where = f", hard ones in {bars_named([shift.bar for shift in hard])}" if hard else ""
    yield (
        f"on a bass tuned {study.hand.tuning}, up to fret {study.hand.top_fret}: {shifts}{where}"
    )


def _loudness_points(study: Study) -> Iterator[str]:
    """Yield which levels the plain notes have."""
    if not study.levels:
        return
    most = max(study.levels, key=study.levels.__getitem__)
    if len(study.levels) == 1:
        yield f"all plain notes at level {most} of 9"
        return
    yield (
        f"levels {min(study.levels)} to {max(study.levels)} of 9, most notes at {most} "
        f"({_percent(study.levels[most])})"
    )


def worth_points(worth: Sequence[Worth]) -> list[str]:
    """Return what is worth practising, and why."""
    shown = []
    for each in worth:
        shown.append(f"{spanned_bars([each.bars])}: {each.why}")
    return shown
