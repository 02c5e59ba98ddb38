"""Bars that would do where the words of one do not fit its beats; every chord is kept."""

from collections.abc import Sequence
from fractions import Fraction

from groove.timing import Meter

MOST_SHOWN_BARS = 4
BEAT_WORDS = {
    Fraction(3, 2): "a dotted quarter",
    Fraction(4): "a whole note",
    Fraction(2): "a half note",
    Fraction(1, 2): "an eighth",
    Fraction(1, 4): "a sixteenth",
    Fraction(1, 8): "a thirty-second",
}
"""The beats that a player may not expect, by their length in quarters."""


def spelled_hint(words: Sequence[str], meter: Meter) -> str:
    """Return what would do for words of one beat each that are too many or too few."""
    rule = f"where a / stands alone every word is one beat{_beat_text(meter)}"
    return f"{rule}: {_bars_text(_spelled_bars(words, meter))}"


def uneven_hint(words: Sequence[str], meter: Meter) -> str:
    """Return what would do for chords without beats that do not share a bar evenly."""
    beats = meter.beats_per_bar
    if len(words) <= beats:
        rule = "expected beats where they are not even, each word one beat"
        return f"{rule}{_beat_text(meter)}: {_bars_text([_spread(words, beats)])}"
    bars = _several_bars(words, beats)
    count = f"{beats} beat{'s' if beats > 1 else ''}"
    rule = f"{len(words)} chords do not share {count}{_beat_text(meter)}"
    return f"{rule}; expected {len(bars)} bars: {_bars_text(bars)}"


def _beat_text(meter: Meter) -> str:
    """Return what a beat is where it is no quarter: ``, in 6/8 a dotted quarter``."""
    word = BEAT_WORDS.get(meter.beat_quarters)
    return f", in {meter} {word}" if word else ""


def _spelled_bars(words: Sequence[str], meter: Meter) -> list[str]:
    """Return bars for words of one beat each.

    Whole bars without their bar lines are parted as they are; eighths counted in 6/8 become its
    beats; else the longest chords are made shorter, or the last one longer.
    """
    beats = meter.beats_per_bar
    chords, counts = _held(words)
    total = len(words)
    if total % beats == 0 and total > beats and not meter.is_compound:
        return [" ".join(words[start : start + beats]) for start in range(0, total, beats)]
    if all(count * beats % total == 0 for count in counts):
        return [bar(chords, [count * beats // total for count in counts])]
    if len(chords) > beats:
        return _several_bars(chords, beats)
    while sum(counts) > beats:
        longest = max(range(len(counts)), key=lambda index: (counts[index], index))
        counts[longest] -= 1
    counts[-1] += beats - sum(counts)
    return [bar(chords, counts)]


def _held(words: Sequence[str]) -> tuple[list[str], list[int]]:
    """Return the chords of a bar and their beats; a / at its head counts as a chord."""
    chords: list[str] = []
    counts: list[int] = []
    for word in words:
        if word == "/" and chords:
            counts[-1] += 1
        else:
            chords.append(word)
            counts.append(1)
    return chords, counts


def _several_bars(chords: Sequence[str], beats: int) -> list[str]:
    """Return chords on as few bars as hold them, as evenly as can be, the first ones fullest."""
    sizes = _even_shares(len(chords), -(-len(chords) // beats))
    starts = [sum(sizes[:index]) for index in range(len(sizes))]
    return [
        _spread(chords[start : start + size], beats)
        for start, size in zip(starts, sizes, strict=True)
    ]


def _spread(chords: Sequence[str], beats: int) -> str:
    """Return a bar whose chords share its beats as evenly as they can, the first ones longest."""
    counts = _even_shares(beats, len(chords))
    return " ".join(chords) if len(set(counts)) == 1 and "/" not in chords else bar(chords, counts)


def _even_shares(total: int, count: int) -> list[int]:
    """Return a whole number as so many whole numbers, the first ones largest."""
    share, longer = divmod(total, count)
    return [share + (index < longer) for index in range(count)]


def bar(chords: Sequence[str], counts: Sequence[int]) -> str:
    """Return a bar's words: each chord with its beats."""
    return " ".join(
        " ".join([chord, *["/"] * (count - 1)]) for chord, count in zip(chords, counts, strict=True)
    )


def _bars_text(bars: Sequence[str]) -> str:
    """Return bars between their bar lines, the first few of many."""
    more = " …" if len(bars) > MOST_SHOWN_BARS else ""
    return f"| {' | '.join(bars[:MOST_SHOWN_BARS])} |{more}"
