"""A chart for the terminal: bars under section names, and the form."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby, zip_longest

from msgspec import Struct

from groove.chart.degrees import raised_number
from groove.chart.form import PICKUP_SECTION, PlayedBar
from groove.chart.model import Notation, Section, Song, WrittenBar
from groove.chart.order import song_form, song_tag, visits
from groove.chart.transpose import sounding_key
from groove.chart.words import direction_words
from groove.chart.write import bar_line, bar_text, setting_texts
from groove.events import ONE_BAR_OF_STICKS
from groove.harmony.analysis import PlacedChange
from groove.text.counts import clock_text, counted
from groove.text.moves import pretty
from groove.text.notices import notice_texts

BARS_A_ROW = 4
NARROWEST_BAR = 8


Names = Mapping[int, str]
"""What stands under a written bar, by its number."""
_Spelled = Callable[[str], str]
"""How a text with chords is written: as the chart has it, or with musical signs."""


def chart_text(
    song: Song,
    bars: Sequence[PlayedBar],
    length_sec: float,
    names: Names | None = None,
    *,
    feel: str = "",
    signs: bool = False,
) -> str:
    """Return a song for reading: head, sections with their bars, form and length.

    ``names`` are the chords' names in their key, set under the bars; ``feel`` is what is played,
    in words.  ``signs`` writes chords with musical signs, as what is told in words has them; else
    they stand as in the chart.
    """
    spelled = pretty if signs else str
    blocks = [
        "\n".join([song.title, _head_line(song, feel, spelled)]),
        *("\n".join(lines) for lines in _section_blocks(song, names or {}, spelled)),
        _form_block(song, bars, length_sec),
    ]
    return "\n\n".join(blocks) + "\n"


def _head_line(song: Song, feel: str, spelled: _Spelled) -> str:
    """Return tempo, meter, key and feel in one line."""
    settings = song.settings
    words = [f"{song.meter.tempo_symbol} = {float(song.tempo.bpm):g}", str(song.meter)]
    key, sounding = settings.key, sounding_key(song)
    if key and sounding:
        moved = f" (sounding {sounding.name})" if settings.transpose else ""
        words.append(spelled(key.name + moved))
    if feel:
        words.append(feel)
    if song.pickup:
        words.append(f"pickup of {spelled(song.pickup_words)}")
    if song.count_in != ONE_BAR_OF_STICKS:
        words.append(f"count-in {song.count_in}")
    return "   ".join(words)


def bar_names(changes: Iterable[PlacedChange], *, numbers: bool) -> dict[int, str]:
    """Return each written bar's numerals, or numbers, as it is first played.

    None of them where the chart is written in them: it need not say them twice.
    """
    names: dict[int, list[str]] = {}
    written: dict[int, str] = {}
    played: dict[int, int] = {}
    for placed in changes:
        ref = placed.bar.ref
        if played.setdefault(ref.written_bar, ref.played_bar) == ref.played_bar:
            name = placed.change.number if numbers else placed.change.numeral
            names.setdefault(ref.written_bar, []).append(pretty(raised_number(name)))
            spans = placed.bar.chords
            written[ref.written_bar] = " ".join(pretty(raised_number(s.written)) for s in spans)
    found = {bar: " ".join(words) for bar, words in names.items()}
    return {} if all(found[bar] == text for bar, text in written.items()) else found


class _BarRow(Struct, frozen=True):
    """A row of bars as it is printed: bar lines and bars in turn, and what stands under them."""

    bars: Sequence[WrittenBar]
    words: list[str]
    under: list[str]


def _section_rows(
    section: Section, names: Names, notation: Notation, spelled: _Spelled
) -> Iterator[_BarRow]:
    for first in range(0, len(section.bars), BARS_A_ROW):
        bars = section.bars[first : first + BARS_A_ROW]
        before = section.bars[first - 1] if first else None
        words = [spelled(word) for word in _row_words(bars, before, notation)]
        yield _BarRow(bars, words, _name_words(bars, names))


def _section_blocks(song: Song, names: Names, spelled: _Spelled) -> Iterator[Iterator[str]]:
    """Yield the lines of each section, the bars of all sections in the same columns."""
    rows = [
        list(_section_rows(section, names, song.notation, spelled)) for section in song.sections
    ]
    every = [words for own in rows for row in own for words in (row.words, row.under)]
    widths = [max(map(len, column)) for column in zip_longest(*every, fillvalue="")]
    for section, own in zip(song.sections, rows, strict=True):
        settings = ", ".join(
            f"{name}: {spelled(text) if name == 'key' else text}"
            for name, text in setting_texts(section.settings).items()
        )
        yield _section_block(section, settings, own, widths)


def _section_block(
    section: Section, settings: str, rows: Sequence[_BarRow], widths: Sequence[int]
) -> Iterator[str]:
    """Yield the lines of one section: its name and settings, then its bars with their numbers."""
    yield section.name + (f"   ({settings})" if settings else "")
    for row in rows:
        yield from (f"      bar {bar.number}: {cue}" for bar in row.bars for cue in bar.cues)
        yield f"{row.bars[0].number:>4}  " + _aligned(row.words, widths)
        if any(row.under):
            yield ("      " + _aligned(row.under, widths)).rstrip()


def _row_words(
    row: Sequence[WrittenBar], before: WrittenBar | None, notation: Notation
) -> list[str]:
    """Return a row's bar lines and bars in turn, ending in a bar line."""
    words = []
    for index, bar in enumerate(row):
        words += [bar_line(row[index - 1] if index else None, bar, before), _read(bar, notation)]
        before = bar
    return [*words, bar_line(row[-1], None, None)]


def _read(bar: WrittenBar, notation: Notation) -> str:
    """Return a bar as it is read: in a chart of numbers sevenths are raised."""
    text = bar_text(bar)
    if notation is Notation.LETTERS:
        return text
    return " ".join(raised_number(word) for word in text.split(" "))


def _name_words(row: Sequence[WrittenBar], names: Names) -> list[str]:
    """Return a row's names in the places of its bars, nothing in those of its bar lines."""
    return [word for bar in row for word in ("", names.get(bar.number, ""))] + [""]


def _aligned(words: Sequence[str], widths: Sequence[int]) -> str:
    """Return a row with its bar lines to the right of their columns and its bars to the left."""
    last = len(words) - 1
    return " ".join(
        word
        if index == last
        else f"{word:>{widths[index]}}"
        if index % 2 == 0
        else f"{word:<{max(NARROWEST_BAR, widths[index])}}"
        for index, word in enumerate(words)
    )


def _form_block(song: Song, bars: Sequence[PlayedBar], length_sec: float) -> str:
    """Return the form in words, how many bars it has and how long it lasts."""
    count = sum(1 for bar in bars if not bar.is_pickup)
    form = played_form(song, "x")
    return f"form: {form}\n{counted(count, 'bar')}, {clock_text(length_sec)}"


def played_form(song: Song, sign: str) -> str:
    """Return the sections as played, jumps taken: ``verse x2, coda (last 2 bars 3 times)``.

    ``sign`` stands before how often a section is played in a row.
    """
    runs = [(name, len(list(run))) for name, run in groupby(v.section for v in visits(song))]
    end = f" ({tag_words(song)})" if song_tag(song) else ""
    return ", ".join(name + (f" {sign}{n}" if n > 1 else "") for name, n in runs) + end


def tag_words(song: Song) -> str:
    """Return how the end is played again: ``last 2 bars 3 times``, empty where it is not."""
    tag = song_tag(song)
    if tag is None:
        return ""
    bars = "bar" if tag.bars == 1 else counted(tag.bars, "bar")
    return f"last {bars} {tag.times} times"


def _pickup_beats(song: Song) -> float:
    """Return the pickup in beats of the first bar, 0 where there is none."""
    meter = song.section(song_form(song)[0].section).bars[0].meter
    return round(float(song.pickup.quarters(meter) / meter.beat_quarters), 4) if song.pickup else 0


def chart_data(
    song: Song, bars: Sequence[PlayedBar], length_sec: float, harmony: Mapping[str, object]
) -> dict[str, object]:
    """Return a song as data: tempo in its own beat and in quarters, sections, bars, places.

    ``harmony`` is what chords say (``groove.harmony.analysis_data``): its ``sections`` are those
    of the song as played, ``written_sections`` those of the chart.
    """
    settings = song.settings
    return {
        "format": 1,
        "chart": song.source,
        **{name: value for name, value in harmony.items() if name != "format"},
        "title": song.title,
        "tempo_bpm": float(song.tempo.bpm),
        "tempo_qpm": float(song.tempo.bpm * song.meter.tempo_unit_quarters),
        "meter": str(song.meter),
        "key_given": settings.key.name if settings.key else None,
        "feel": settings.feel.name if settings.feel else None,
        "count_in": {"bars": song.count_in.bars, "giver": song.count_in.giver},
        "pickup_beats": _pickup_beats(song),
        "pickup_bar": _bar_data(song.pickup_bar, PICKUP_SECTION) if song.pickup_bar else None,
        "form": [{"section": step.section, "times": step.times} for step in song_form(song)],
        "written_sections": [_section_data(section) for section in song.sections],
        "bars": [_bar_data(bar, section.name) for section in song.sections for bar in section.bars],
        "played_bars": [_played_data(bar) for bar in bars],
        "length_sec": round(length_sec, 3),
        "notices": notice_texts(song.notices),
    }


def _section_data(section: Section) -> dict[str, object]:
    """Return a section: its name, its place, its written bars, its settings as a chart has them."""
    return {
        "name": section.name,
        "settings": setting_texts(section.settings),
        "line": section.place.line,
        "first_bar": section.bars[0].number,
        "last_bar": section.bars[-1].number,
    }


def _bar_data(bar: WrittenBar, section: str) -> dict[str, object]:
    """Return a written bar with its chords; beats count from 1."""
    beat = bar.meter.beat_quarters
    return {
        "bar": bar.number,
        "section": section,
        "meter": str(bar.meter),
        "word": bar.word,
        "directions": list(direction_words(bar.directions)),
        "cues": list(bar.cues),
        "endings": list(bar.endings),
        "line": bar.place.line,
        "column": bar.place.column,
        "chords": [
            {
                "symbol": span.symbol,
                "written": span.written,
                "beat": float(span.start_quarters / beat) + 1,
                "beats": float(span.length_quarters / beat),
                "push_quarters": float(span.push.quarters) if span.push else 0.0,
                "line": span.place.line,
                "column": span.place.column,
            }
            for span in bar.chords
        ],
    }


def _played_data(bar: PlayedBar) -> dict[str, object]:
    """Return the name of a played bar."""
    ref = bar.ref
    return {
        "bar": ref.played_bar,
        "section": ref.section,
        "occurrence": ref.occurrence,
        "pass": ref.pass_number,
        "bar_in_section": ref.bar_in_section,
        "written_bar": ref.written_bar,
    }
