"""Feels and cells for the terminal: a list, and each cell as a grid of slots."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import get_args

from groove.cells.library import CellKind, cells_of, find_cell
from groove.cells.model import (
    BassBar,
    BassCell,
    Cell,
    DrumCell,
    DrumEnding,
    DrumStroke,
    Feel,
    KeysCell,
    KeysStroke,
    Library,
)
from groove.cells.tokens import token_text
from groove.events import Part
from groove.text.feel_legend import legend_lines
from groove.theory.general_midi import tone_of
from groove.timing import Meter

_LABEL_WIDTH = 11
SLOT_WIDTH = 4


def feel_list(feels: Sequence[Feel]) -> str:
    """Return feels, two lines each: name, meter, tempo and styles; then what it is like."""
    name_width = max(len(feel.name) for feel in feels)
    lines = []
    for feel in feels:
        meter = str(feel.meter or "any")
        head = f"{feel.name:<{name_width}}  {meter:<5} {_tempo_range(feel):<11} "
        described = [", ".join(feel.also), feel.summary] if feel.also else [feel.summary]
        lines += [head + described[0], *(" " * len(head) + line for line in described[1:])]
    return "\n".join(lines) + "\n"


def cell_list(library: Library) -> str:
    """Return the cells of every part, one a line, under the setting that names them."""
    blocks = []
    for kind in get_args(CellKind):
        cells = cells_of(library, kind).values()
        width = max((len(cell.name) for cell in cells), default=0)
        rows = [f"  {cell.name:<{width}}  {cell.summary}" for cell in cells]
        blocks.append("\n".join([f"{kind} cells ({kind}: NAME):", *rows]) + "\n")
    return "\n".join(["", *blocks])


def _tempo_range(feel: Feel) -> str:
    """Return a feel's tempi in its beat: ``♩ 72-104``."""
    symbol = (feel.meter or Meter(4, 4)).tempo_symbol
    low, high = feel.tempo_beats
    return f"{symbol} {low}-{high}"


def feel_text(library: Library, feel: Feel) -> str:
    """Return a feel: how it is played, its cells as grids, and what their signs mean."""
    how = f"{feel.meter or 'any meter'}   {_tempo_range(feel)}"
    how += f"   notes {feel.length_percent} % long"
    if feel.swing and feel.swing.percent != 50:
        how += f"   swing {feel.swing}"
    if tone := tone_of(feel.bass_program):
        how += f"   bass tone {tone}"
    described = [", ".join(feel.also), feel.summary] if feel.also else [feel.summary]
    blocks = ["\n".join([f"{feel.name}: {described[0]}", *described[1:], how])]
    named = (("bass", feel.bass), ("drums", feel.drums), ("keys", feel.keys))
    found = [find_cell(library, kind, name) for kind, name in named]  # type: ignore[arg-type]
    cells = [cell for cell in found if cell]
    grids = [_cell_grids(cell) for cell in cells]
    blocks += grids
    legend = legend_lines(cells, "\n".join(grids), feel.phrase_bars)
    return "\n\n".join([*blocks, *(["\n".join(legend)] if legend else [])]) + "\n"


def cell_text(cell: Cell) -> str:
    """Return one cell as a grid, and what its signs mean."""
    grid = _cell_grids(cell)
    legend = legend_lines([cell], grid)
    return "\n\n".join([grid, *(["\n".join(legend)] if legend else [])]) + "\n"


def _cell_grids(cell: Cell) -> str:
    """Return one cell as a grid, what takes its place under it, and its fill."""
    if isinstance(cell, BassCell):
        return "\n".join([f"bass: {cell.name}", *_bass_lines(cell)])
    if isinstance(cell, DrumCell):
        return "\n".join([f"drums: {cell.name}", *_drum_lines(cell)])
    return "\n".join([f"keys: {cell.name}", *_keys_lines(cell)])


def _bass_lines(cell: BassCell) -> Iterator[str]:
    if cell.meter is None or not cell.bars:
        yield f"  made by rule: {cell.summary}"
        return
    slots = cell.meter.pulse_count * cell.slots_per_beat
    for label, bars in (("", cell.bars), *cell.when):
        yield _ruler(label, slots, cell.slots_per_beat, len(bars))
        yield row("", [_bass_slots(bar, slots, cell.slots_per_beat) for bar in bars])
        yield row("level", [_bass_levels(bar, slots) for bar in bars])


def _ruler(label: str, slots: int, slots_per_beat: int, bars: int, first: int = 0) -> str:
    """Return the line that counts the beats of slots from the bar's ``first`` one on."""
    marks = [
        str(slot // slots_per_beat + 1) if slot % slots_per_beat == 0 else ""
        for slot in range(first, first + slots)
    ]
    if len(label) > _LABEL_WIDTH:
        return f"  {label}\n" + row("", [marks] * bars)
    return row(label, [marks] * bars)


def row(label: str, bars: Iterable[Sequence[str]]) -> str:
    """Return a label and the slots of each bar, four columns a slot."""
    cells = "|".join("".join(f"{slot:<{SLOT_WIDTH}}" for slot in bar) for bar in bars)
    return f"  {label:<{_LABEL_WIDTH}}|{cells}|"


def _bass_slots(bar: BassBar, slots: int, slots_per_beat: int) -> list[str]:
    """Return a bar's steps as a cell file has them."""
    found = ["."] * slots
    hold(found, 0, bar.head_hold_beats, slots_per_beat)
    for stroke in bar.strokes:
        hold(found, stroke.step, stroke.length_beats, slots_per_beat)
        found[stroke.step] = token_text(stroke.aim)
    return found


def hold(found: list[str], start: int, beats: Fraction, slots_per_beat: int) -> None:
    """Write a note's holds from a slot on."""
    for slot in range(start, start + int(beats * slots_per_beat)):
        found[slot] = "-"


def _bass_levels(bar: BassBar, slots: int) -> list[str]:
    found = [""] * slots
    for stroke in bar.strokes:
        found[stroke.step] = str(stroke.level)
    return found


def _drum_lines(cell: DrumCell) -> Iterator[str]:
    if cell.meter is None:
        yield "  silent"
        return
    bar_slots = cell.meter.pulse_count * cell.slots_per_beat
    yield from _drum_grid("", cell.bars, bar_slots, cell.slots_per_beat)
    for label, bars in cell.when:
        yield from _drum_grid(label, bars, bar_slots, cell.slots_per_beat)
    for fill in cell.fills:
        first = (cell.meter.pulse_count - fill.beats) * fill.slots_per_beat
        slots = int(fill.beats * fill.slots_per_beat)
        yield from _drum_grid("fill", (fill.strokes,), slots, fill.slots_per_beat, int(first))
    for comment in cell.comments:
        yield from _drum_grid("comment", (comment,), bar_slots, cell.slots_per_beat)
    if cell.ending is DrumEnding.ROLL:
        yield "  ends with a roll under the last chord"


def _drum_grid(
    label: str,
    bars: Sequence[Sequence[DrumStroke]],
    slots: int,
    slots_per_beat: int,
    first: int = 0,
) -> Iterator[str]:
    """Yield one grid: a row a stroke's name, its levels on the slots from the bar's ``first``."""
    if not bars:
        return
    yield _ruler(label, slots, slots_per_beat, len(bars), first)
    for key in dict.fromkeys(stroke.key for bar in bars for stroke in bar):
        grids = []
        for bar in bars:
            found = ["."] * slots
            for stroke in bar:
                if stroke.key == key:
                    found[stroke.step] = str(stroke.level)
            grids.append(found)
        yield row(key, grids)


def _keys_lines(cell: KeysCell) -> Iterator[str]:
    if cell.meter is None or not cell.bars:
        yield "  each chord held"
        return
    slots = cell.meter.pulse_count * cell.slots_per_beat
    for label, bars in (("", cell.bars), *cell.when):
        yield _ruler(label, slots, cell.slots_per_beat, len(bars))
        yield row("", [_keys_slots(bar, slots, cell.slots_per_beat) for bar in bars])


def _keys_slots(bar: Sequence[KeysStroke], slots: int, slots_per_beat: int) -> list[str]:
    """Return a bar's steps as a cell file has them."""
    found = ["."] * slots
    for stroke in bar:
        hold(found, stroke.step, stroke.length_beats, slots_per_beat)
        voices = "".join(str(voice) for voice in stroke.voices)
        found[stroke.step] = (voices or "V") + ("o" if stroke.octaves else "")
    return found


def cell_data(cell: Cell) -> dict[str, object]:
    """Return a cell as data."""
    kinds = {BassCell: Part.BASS, DrumCell: Part.DRUMS, KeysCell: Part.KEYS}
    return {
        "format": 1,
        "part": kinds[type(cell)],
        "cell": cell.name,
        "summary": cell.summary,
        "meter": str(cell.meter) if cell.meter else None,
        "slots_per_beat": cell.slots_per_beat,
        "file": cell.source,
    }


def feel_data(feel: Feel) -> dict[str, object]:
    """Return a feel as data."""
    return {
        "format": 1,
        "feel": feel.name,
        "also": list(feel.also),
        "summary": feel.summary,
        "meter": str(feel.meter) if feel.meter else None,
        "tempo_bpm": list(feel.tempo_beats),
        "bass": feel.bass,
        "drums": feel.drums,
        "keys": feel.keys,
        "length_percent": feel.length_percent,
        "swing": str(feel.swing) if feel.swing else None,
        "bass_tone": tone_of(feel.bass_program) or None,
        "file": feel.source,
    }
