"""From a song back to the text of a chart; reading it again gives the same song."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from groove.cells.tokens import REST
from groove.chart.blocks import BLOCK_PARTS
from groove.chart.model import (
    ChordSpan,
    Notation,
    Riff,
    Section,
    Settings,
    Slot,
    Song,
    Tempo,
    WrittenBar,
)
from groove.chart.pickup import Pickup
from groove.chart.repeats import ending_text
from groove.chart.words import direction_words
from groove.chart.write_rows import bars_a_line, rows_under
from groove.events import ONE_BAR_OF_STICKS
from groove.timing import Meter

_BARS_A_LINE = 4


def write_chart(song: Song) -> str:
    """Return the chart of a song: settings, sections with their bars, form."""
    head = [f"title: {song.title}"]
    if song.notation is not Notation.LETTERS:
        head.append(f"chords: {song.notation}")
    if song.count_in != ONE_BAR_OF_STICKS:
        head.append(f"count-in: {song.count_in}")
    if song.pickup:
        head += _pickup_lines(song.pickup, song.pickup_bar)
    head += setting_lines(song.settings)
    blocks = ["\n".join(head), *map(_riff_text, song.riffs)]
    for section in song.sections:
        lines = _like_lines(song, section) if section.like else _section_lines(section)
        blocks.append("\n".join(lines))
    if song.form:
        blocks.append("form: " + form_text(song))
    return "\n\n".join(blocks) + "\n"


def _pickup_lines(pickup: Pickup, bar: WrittenBar | None) -> list[str]:
    """Return a pickup: its length, its chords where it has any, and the rows under them."""
    if bar is None:
        return [f"pickup: {pickup}"]
    return [f"pickup: {pickup} | {bar_text(bar)} |", *(f"  {row}" for row in rows_under((bar,)))]


def _riff_text(riff: Riff) -> str:
    """Return a block: its heading, and its rows with their levels where they have any."""
    word = {part: word for word, part in BLOCK_PARTS.items()}[riff.part]
    lines = [f"{word} {riff.name}:"]
    for row in riff.rows:
        label = f"{row.name.replace('_', ' ')}: " if row.name else ""
        lines.append("  " + label + " | ".join(_slots_text(bar) for bar in row.bars))
        if any(slot.level for bar in row.bars for slot in bar):
            lines.append("  levels: " + " | ".join(_levels_text(bar) for bar in row.bars))
    return "\n".join(lines)


def _slots_text(bar: Sequence[Slot]) -> str:
    """Return a bar of a riff as its tokens."""
    return " ".join(slot.token for slot in bar)


def _levels_text(bar: Sequence[Slot]) -> str:
    """Return the levels of a bar, a point where nothing is struck."""
    return " ".join(str(slot.level or REST) for slot in bar)


def form_text(song: Song) -> str:
    """Return the form in one line: ``intro, verse x2``."""
    return ", ".join(
        entry.section + (f" x{entry.times}" if entry.times > 1 else "") for entry in song.form
    )


def setting_lines(settings: Settings) -> list[str]:
    """Return the settings that are given, one a line."""
    return [f"{name}: {text}" for name, text in setting_texts(settings).items()]


def setting_texts(settings: Settings) -> dict[str, str]:
    """Return the settings that are given as a chart has them, by name."""
    texts = {
        "tempo": _tempo_text(settings.tempo) if settings.tempo else None,
        "meter": settings.meter,
        "key": settings.key.name if settings.key else None,
        "feel": settings.feel.name if settings.feel else None,
        "bass": settings.bass.name if settings.bass else None,
        "drums": settings.drums.name if settings.drums else None,
        "keys": settings.keys.name if settings.keys else None,
        "fills": settings.fills,
        "swing": settings.swing,
        "dynamics": settings.dynamics,
        "vary": settings.vary,
        "bass tone": settings.bass_tone.name if settings.bass_tone else None,
        "transpose": settings.transpose,
        "tuning": settings.tuning.name if settings.tuning else None,
        "seed": settings.seed,
    }
    return {name: str(text) for name, text in texts.items() if text is not None}


def _tempo_text(tempo: Tempo) -> str:
    """Return a tempo as a chart has it: ``84`` or ``84 to 60``."""
    if tempo.end_bpm is None:
        return number_text(tempo.bpm)
    return f"{number_text(tempo.bpm)} to {number_text(tempo.end_bpm)}"


def number_text(number: Fraction) -> str:
    """Return a number with as many decimals as it needs."""
    return f"{float(number):.3f}".rstrip("0").rstrip(".")


def _section_lines(section: Section) -> list[str]:
    """Return a section: its name, its settings, its bars four a line."""
    lines = [f"{section.name}:", *(f"  {text}" for text in setting_lines(section.settings))]
    before: WrittenBar | None = None
    for row in bars_a_line(section.bars, _BARS_A_LINE):
        words = []
        for index, bar in enumerate(row):
            words += [bar_line(row[index - 1] if index else None, bar, before), bar_text(bar)]
            before = bar
        lines += [f"  cue: {cue}" for cue in row[0].cues]
        lines.append("  " + " ".join([*words, bar_line(row[-1], None, None)]))
        lines += [f"  {text}" for text in rows_under(row)]
    return lines


def _like_lines(song: Song, section: Section) -> list[str]:
    """Return a section that is like another: what differs in its settings and its bars."""
    base = song.section(section.like).settings
    given = setting_lines(base)
    own = [line for line in setting_lines(section.settings) if line not in given]
    lines = [f"{section.name}:", f"  as: {section.like}", *(f"  {text}" for text in own)]
    for number in section.changed:
        bar = section.bars[number - 1]
        lines += [f"  cue: {cue}" for cue in bar.cues]
        lines.append(f"  bar {number}: | {bar_text(bar)} |")
        lines += [f"  {text}" for text in rows_under((bar,))]
    return lines


def bar_line(left: WrittenBar | None, right: WrittenBar | None, before: WrittenBar | None) -> str:
    """Return the bar line between two bars of a row, None at its edges.

    ``before`` is the bar before ``right`` in the section, on whatever row it stands.
    """
    words = []
    if left and (left.closes_repeat or left.double_bar):
        words.append(_closing(left))
    if right and right.opens_repeat:
        words.append("|:")
    if right and right.endings and _starts_ending(right, before):
        words.append(f"|{ending_text(right)}")
    return " ".join(words) or "|"


def _starts_ending(bar: WrittenBar, before: WrittenBar | None) -> bool:
    return before is None or before.endings != bar.endings or before.closes_repeat


def _closing(bar: WrittenBar) -> str:
    """Return the bar line at the end of a bar."""
    mark = "||" if bar.double_bar else "|"
    if not bar.closes_repeat:
        return mark
    return f":{mark}" + (f" x{bar.passes}" if bar.passes > 2 else "")


def bar_text(bar: WrittenBar) -> str:
    """Return what stands between two bar lines."""
    words = []
    if bar.states_meter:
        words.append(f"({bar.meter})")
    if bar.word:
        words.append(f"({bar.word})")
    words += [f"({word})" for word in direction_words(bar.directions)]
    words += ["%"] if bar.repeats_bar else _chord_words(bar)
    return " ".join(words)


def _chord_words(bar: WrittenBar) -> Iterator[str]:
    """Yield a bar's chords, with a slash a beat where they do not share it evenly."""
    return with_slashes((span.written for span in bar.chords), bar.chords, bar.meter)


def with_slashes(names: Iterable[str], spans: Sequence[ChordSpan], meter: Meter) -> Iterator[str]:
    """Yield chords by their names, pushes before them and the slashes of an uneven bar after."""
    is_even = len({span.length_quarters for span in spans}) == 1
    for name, span in zip(names, spans, strict=True):
        yield span.push_sign + name
        if not is_even:
            yield from ["/"] * (int(span.length_quarters / meter.beat_quarters) - 1)
