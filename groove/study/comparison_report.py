"""Two lines compared, in words and as plain data; what is the same is said first."""

from collections.abc import Iterator, Sequence
from html import escape

from groove.cells.tokens import token_text
from groove.study.comparison import BarPair, ComparedLines, StrokePair
from groove.study.note_kinds import NoteKind, PlacedNote
from groove.study.study_data import beat_number, swing_ratio
from groove.study.study_report import bars_named, beat_words, folded
from groove.text.counts import counted
from groove.text.html_report import bullet_list, html_report
from groove.text.times import ordinal
from groove.theory.pitch import pitch_name

MOST_GROUPS = 24
"""So many kinds of bars that differ are told in words; all are in the data."""
SHARE_APART = 0.1
"""By which share of its notes a line has more of a kind, for it to be said."""

_WORDS = {
    NoteKind.SCALE: "scale note",
    NoteKind.CHROMATIC: "chromatic note",
    NoteKind.NO_CHORD: "the note",
}
_Block = tuple[str, list[str]]


def comparison_text(compared: ComparedLines, names: tuple[str, str]) -> str:
    """Return the comparison for a terminal; ``names`` are what the two files are called."""
    head, *blocks = _blocks(compared, names)
    lines = [head[0], *(f"  {point}" for point in head[1])]
    for title, points in blocks:
        lines += ["", title, *(f"  {point}" for point in points)]
    return "\n".join(folded(lines)) + "\n"


def comparison_html(compared: ComparedLines, names: tuple[str, str]) -> str:
    """Return the comparison as one HTML file."""
    head, *blocks = _blocks(compared, names)
    body = [f"<h1>{escape(head[0])}</h1>{bullet_list(head[1])}"]
    body += [
        f"<h2>{escape(title)}</h2>{bullet_list(point.strip() for point in points)}"
        for title, points in blocks
    ]
    return html_report(head[0], body)


def _blocks(compared: ComparedLines, names: tuple[str, str]) -> Iterator[_Block]:
    """Yield the parts of the report, each a head and its points."""
    one, two = compared.one, compared.two
    yield (
        f"{one.title}: two lines over {counted(len(compared.bars), 'bar')}",
        [f"A: {names[0]}, {one.part}", f"B: {names[1]}, {two.part}"],
    )
    yield "the same", list(_same_points(compared))
    whole = list(_whole_points(compared))
    if whole:
        yield "in the whole", whole
    groups = _groups(compared.bars)
    if groups:
        points = [line for bars, said in groups[:MOST_GROUPS] for line in _group_lines(bars, said)]
        if len(groups) > MOST_GROUPS:
            points.append(f"and {len(groups) - MOST_GROUPS} more such bars, in --json")
        yield "bar by bar", points


def _same_points(compared: ComparedLines) -> Iterator[str]:
    struck = [bar for bar in compared.bars if bar.strokes]
    same = [bar.frame.number for bar in struck if bar.is_same]
    rhythm = [bar.frame.number for bar in struck if bar.is_same_rhythm and not bar.is_same]
    of = f"{len(struck)} bars with notes"
    if same and len(same) == len(struck):
        yield "every note"
        return
    yield f"{100 * compared.same_share:.0f}% of all strokes"
    if same:
        yield f"all notes in {len(same)} of {of}: {bars_named(same)}"
    if rhythm:
        yield f"the rhythm alone in {len(rhythm)} more: {bars_named(rhythm)}"
    if compared.has_same_swing:
        yield f"the swing, {compared.one.swing}" if compared.one.swing else "even, without swing"


def _whole_points(compared: ComparedLines) -> Iterator[str]:
    """Yield in what the lines differ as wholes."""
    one, two = compared.one, compared.two
    if not compared.has_same_swing:
        yield f"A swings {one.swing or 'not'}, B {two.swing or 'not'}"
    if len(one.ghosts) != len(two.ghosts):
        yield f"A has {counted(len(one.ghosts), 'ghost')}, B {len(two.ghosts) or 'none'}"
    if one.pitches and two.pitches:
        ends = [(line.pitches[0], line.pitches[-1]) for line in (one, two)]
        if ends[0] != ends[1]:
            said = [f"{pitch_name(low)} to {pitch_name(high)}" for low, high in ends]
            yield f"A goes from {said[0]}, B from {said[1]}"
    for kind in NoteKind:
        more = one.shares[kind] - two.shares[kind]
        if abs(more) >= SHARE_APART:
            name, high, low = ("A", one, two) if more > 0 else ("B", two, one)
            yield (
                f"{name} plays more of: {kind.value}, {100 * high.shares[kind]:.0f}% of its notes "
                f"against {100 * low.shares[kind]:.0f}%"
            )


# --- bar by bar -----------------------------------------------------------------------------------


def _groups(bars: Sequence[BarPair]) -> list[tuple[list[BarPair], tuple[str, ...]]]:
    """Return the bars that differ, those that differ alike over the same chords together."""
    found: dict[tuple[str, tuple[str, ...]], list[BarPair]] = {}
    for bar in bars:
        if not bar.is_same:
            found.setdefault((_chords(bar), tuple(_bar_points(bar))), []).append(bar)
    return [(own, said) for (_, said), own in found.items()]


def _group_lines(bars: Sequence[BarPair], said: Sequence[str]) -> Iterator[str]:
    """Yield the name of bars that differ alike, and in what."""
    times = [f" ({ordinal(bar.time)} time)" if bar.time else "" for bar in bars]
    names = [f"{bar.frame.number}{time}" for bar, time in zip(bars, times, strict=True)]
    yield f"bar{'s' if len(bars) > 1 else ''} {', '.join(names)}, over {_chords(bars[0])}"
    yield from (f"  {point}" for point in said)


def _chords(bar: BarPair) -> str:
    symbols = [each.chord.symbol if each.chord else "N.C." for each in bar.frame.chords]
    return " ".join(symbols)


def _bar_points(bar: BarPair) -> Iterator[str]:
    """Yield in what a bar differs: rhythm first, then what is struck at the same places."""
    for name, own in (
        ("A", [stroke.one for stroke in bar.strokes if stroke.two is None]),
        ("B", [stroke.two for stroke in bar.strokes if stroke.one is None]),
    ):
        if own:
            yield f"{name} alone strikes {', '.join(_placed(note) for note in own if note)}"
    for stroke in bar.strokes:
        if stroke.one and stroke.two and not stroke.is_same:
            yield _other_note(stroke, stroke.one, stroke.two)


def _placed(note: PlacedNote) -> str:
    return f"{beat_words(note.beat)} ({_what(note)})"


def _what(note: PlacedNote) -> str:
    """Return what is struck: what it is in the chord, and its pitch."""
    if note.kind is None:
        return "a ghost"
    return f"{_WORDS.get(note.kind, note.kind.value)} {pitch_name(note.note.pitch)}"


def _other_note(stroke: StrokePair, one: PlacedNote, two: PlacedNote) -> str:
    """Return what either line strikes at one place."""
    at = f"on {beat_words(stroke.beat)}"
    if stroke.octaves:
        side = "higher" if stroke.octaves > 0 else "lower"
        far = "an octave" if abs(stroke.octaves) == 1 else f"{abs(stroke.octaves)} octaves"
        pitch = pitch_name(two.note.pitch)
        return f"{at} B is {far} {side}, {pitch}"
    return f"{at} A strikes {_what(one)}, B {_what(two)}"


# --- as data --------------------------------------------------------------------------------------


def comparison_data(compared: ComparedLines) -> dict[str, object]:
    """Return the comparison as data; ``played_bar`` counts from 1, shares lie between 0 and 1."""
    one, two = compared.one, compared.two
    return {
        "parts": [one.part, two.part],
        "bars": len(compared.bars),
        "same": {
            "share": round(compared.same_share, 4),
            "bars": [n for n, bar in enumerate(compared.bars, 1) if bar.strokes and bar.is_same],
            "rhythm_bars": [
                n for n, bar in enumerate(compared.bars, 1) if bar.strokes and bar.is_same_rhythm
            ],
        },
        "swing_ratios": [swing_ratio(one), swing_ratio(two)],
        "ghosts": [len(one.ghosts), len(two.ghosts)],
        "registers": [[*line.pitches[:1], *line.pitches[-1:]] for line in (one, two)],
        "shares": {
            kind.value: [round(one.shares[kind], 4), round(two.shares[kind], 4)]
            for kind in NoteKind
        },
        "differences": [
            {
                "bar": bar.frame.number,
                "played_bar": number,
                "beat": beat_number(stroke.beat),
                "one": _note_data(stroke.one),
                "two": _note_data(stroke.two),
            }
            for number, bar in enumerate(compared.bars, 1)
            for stroke in bar.strokes
            if not stroke.is_same
        ],
    }


def _note_data(note: PlacedNote | None) -> dict[str, object] | None:
    if note is None:
        return None
    kind = note.kind.value if note.kind else "ghost"
    return {"step": token_text(note.aim), "kind": kind, "pitch": note.note.pitch}
