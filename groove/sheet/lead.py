"""The chart as a chart: a chord chart of bars and chords, with the form in words.

Section names stand in words on a line of their own; a bar is as wide as its beats, so chords stand
where they are struck, in the key that sounds, as the part has them; a line is a phrase of four
bars (two on a phone), and an ending begins no new one.  Where the song is too long for a page
everything gets smaller, down to ``SMALLEST_SCALE``; after that there are more pages.  Lengths are
millimetres.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import mode

from groove.chart.model import ChordSpan, Section, Settings, Song, WrittenBar
from groove.chart.order import song_form
from groove.chart.push import Push
from groove.chart.transpose import sounding_song
from groove.chart.words import direction_words
from groove.chart.write import form_text, setting_texts
from groove.chart.written_for import song_written_for
from groove.harmony.analysis import Analysis, analyse
from groove.sheet.chord_words import Numerals, chart_numerals, written_chord
from groove.sheet.drawing import Drawing
from groove.sheet.facts import FACT_GAP, NO_FACTS, SheetFacts
from groove.sheet.folding import RepeatSigns, repeat_signs
from groove.sheet.form_words import section_letters
from groove.sheet.lead_signs import (
    BAR_LINE_MM,
    BOLD_SHARE,
    CHORD_GAP_MM,
    ENDING_MM,
    WORD_SIZE,
    draw_ending,
    draw_meter,
    draw_repeat,
    draw_simile,
    draw_stroke,
    meter_mm,
    name_mm,
    set_names,
    text_mm,
    wrapped,
)
from groove.sheet.options import SheetOptions, Size
from groove.sheet.print_pages import TEXT_FONT, content_mm, margin_mm
from groove.sheet.score import passes_words
from groove.text.moves import pretty

PHRASE_BARS = 4
PHONE_PHRASE_BARS = 2
SECTION_SIZE = 5.2
FOOT_SIZE = 4.2
TITLE_SIZE = 8.0
ROW_MM = 15.0
NUMERAL_ROW_MM = 20.0
SECTION_MM = 11.0
WORDS_MM = 3.5
"""Room for words over a line where a section's name or endings stand over it."""
TITLE_MM = 16.0
BAR_PAD_MM = 1.8
GUTTER_MM = 6.0
"""Room for the bar numbers, left of the lines."""
NUMBER_SIZE = 3.0
SMALLEST_SCALE = 0.6
SHOWN_SETTINGS = ("tempo", "key", "feel", "bass", "drums", "keys", "dynamics")


@dataclass(frozen=True, slots=True)
class _LeadRow:
    """A line of bars of one section, or the section's name, with the height it needs.

    ``pickup`` is the length of the short bar before the song's first, in quarters; ``over_mm``
    how much of the height is for endings over the bars, ``words_mm`` for words over those.
    """

    height: float
    bars: tuple[WrittenBar, ...] = ()
    signs: tuple[RepeatSigns, ...] = ()
    section: Section | None = None
    pickup: Fraction = Fraction(0)
    over_mm: float = 0.0
    words_mm: float = 0.0


def lead_pages(
    song: Song,
    options: SheetOptions,
    *,
    for_print: bool = False,
    analysis: Analysis | None = None,
    facts: SheetFacts = NO_FACTS,
) -> tuple[str, ...]:
    """Return the pages of a song's chord chart as SVG; ``for_print`` leaves out title and facts.

    Numerals come from ``analysis``; where it is not given, the song is analysed for them.  So does
    the key of a chart that is written for another player, who reads it in another one.
    """
    whom = options.written_for
    known = analysis or analyse(song) if options.numerals or whom else None
    numerals = chart_numerals(known) if known and options.numerals else {}
    if known and whom:
        song = song_written_for(song, whom, known.key)
    return _LeadSheet(song, options, numerals, facts, for_print=for_print).pages()


class _LeadSheet:
    """Lays a song out, row by row."""

    def __init__(
        self,
        song: Song,
        options: SheetOptions,
        numerals: Numerals,
        facts: SheetFacts,
        *,
        for_print: bool,
    ) -> None:
        """Work out the rows and what one beat measures."""
        song = sounding_song(song)
        self.song = song
        self.for_print = for_print
        self.facts = facts
        self.is_endless = options.paper.is_endless
        self.margin = margin_mm(options.paper)
        self.width, self.height = content_mm(options.paper)
        if not for_print:
            self.height = options.paper.height_mm - 2 * self.margin
        self.numerals = numerals
        order = [entry.section for entry in song_form(song)]
        self.letters = section_letters(order) if options.letters else {}
        bars = PHONE_PHRASE_BARS if options.size is Size.PHONE else PHRASE_BARS
        self.rows = tuple(self.song_rows(bars))
        self.scale = self.fitting_scale()
        most = max(_row_quarters(row.bars) + float(row.pickup) for row in self.rows)
        usual = mode(bar.meter.bar_quarters for s in song.sections for bar in s.bars)
        before = meter_mm(song.sections[0].bars[0].meter) if song.pickup else 0.0
        room = self.width / self.scale - GUTTER_MM - 2 - before
        self.quarter_mm = room / max(most, float(usual * bars))

    def song_rows(self, bars_a_line: int) -> Iterator[_LeadRow]:
        height = NUMERAL_ROW_MM if self.numerals else ROW_MM
        for section in self.song.sections:
            yield _LeadRow(SECTION_MM, section=section)
            signs = repeat_signs(section.bars)
            for first in range(0, len(section.bars), bars_a_line):
                bars = section.bars[first : first + bars_a_line]
                own = signs[first : first + bars_a_line]
                brackets = ENDING_MM if any(each.ending for each in own) else 0
                is_told = any(word for bar in bars for word in _over_bar(bar))
                words = WORDS_MM if is_told and (brackets or first == 0) else 0
                pickup = self.pickup_quarters(section) if first == 0 else Fraction(0)
                total = height + brackets + words
                yield _LeadRow(total, bars, own, section, pickup, brackets, words)

    def pickup_quarters(self, section: Section) -> Fraction:
        """Return the length of the pickup that stands before a section: the first one played."""
        if not self.song.pickup or section.name != song_form(self.song)[0].section:
            return Fraction(0)
        return self.song.pickup.quarters(section.bars[0].meter)

    def fitting_scale(self) -> float:
        """Return the scale at which the song fits one page, within limits."""
        if self.is_endless:
            return 1.0
        need = sum(row.height for row in self.rows) + ROW_MM + FOOT_SIZE
        need += 0 if self.for_print else TITLE_MM
        return max(SMALLEST_SCALE, min(1.0, self.height / need))

    def pages(self) -> tuple[str, ...]:
        room = self.height / self.scale
        found: list[str] = []
        drawing, y = _new_page(), 0.0
        if not self.for_print:
            size = min(TITLE_SIZE, TITLE_SIZE * self.width / text_mm(self.song.title, TITLE_SIZE))
            drawing.text(0, 8, self.song.title, size, font_weight="bold")
            y = TITLE_MM
            self.draw_facts(drawing, 13)
        for index, row in enumerate(self.rows):
            follows = self.rows[index + 1].height if row.bars == () else 0
            if y + row.height + follows > room and not self.is_endless:
                found.append(self.page(drawing, room))
                drawing, y = _new_page(), 0.0
            self.draw_row(drawing, row, y)
            y += row.height
        for words in _foot_lines(self.song):
            for line in wrapped(words, FOOT_SIZE, self.width / self.scale):
                y += FOOT_SIZE + 2
                drawing.text(0, y, line, FOOT_SIZE)
        y += FOOT_SIZE
        found.append(self.page(drawing, y if self.is_endless else room))
        return tuple(found)

    def page(self, drawing: Drawing, height: float) -> str:
        margin = 0.0 if self.for_print else self.margin
        width = self.width / self.scale + 2 * margin
        height += 2 * margin
        drawing.set_box((-margin, -margin, width, height))
        return drawing.svg()

    def draw_facts(self, drawing: Drawing, y: float) -> None:
        """Write the facts in a line, the note of the tempo first and the same for all viewers."""
        facts, x = self.facts, 0.0
        words = facts.untimed
        if facts.note_sign:
            drawing.letters(0, y, facts.note_sign, WORD_SIZE)
            x = name_mm(facts.note_sign, WORD_SIZE) + 1
            words = FACT_GAP.join(filter(None, (f"= {facts.per_minute}", words)))
        if words:
            size = min(WORD_SIZE, WORD_SIZE * (self.width - x) / text_mm(words, WORD_SIZE))
            drawing.text(x, y, words, size, font_style="italic")

    # --- rows ---

    def draw_row(self, drawing: Drawing, row: _LeadRow, top: float) -> None:
        """Draw a section's name, or a line of bars."""
        if not row.bars:
            assert row.section is not None
            self.draw_name(drawing, row.section, top + SECTION_MM - 2.5)
            return
        top += row.over_mm + row.words_mm
        x = GUTTER_MM
        self.draw_number(drawing, row.bars[0], top)
        self.draw_line(drawing, x, top)
        x += self.draw_pickup(drawing, row, x, top)
        for index, bar in enumerate(row.bars):
            width = float(bar.meter.bar_quarters) * self.quarter_mm
            self.draw_bar(drawing, row, index, x, top, width)
            x += width

    def draw_number(self, drawing: Drawing, bar: WrittenBar, top: float) -> None:
        """Write the number of a line's first bar before it, as ``--bars`` counts."""
        drawing.text(0, top + 1 + BAR_LINE_MM, str(bar.number), NUMBER_SIZE, font_style="italic")

    def draw_pickup(self, drawing: Drawing, row: _LeadRow, x: float, top: float) -> float:
        """Draw the short bar before the first, its chords or a stroke a beat; return its width."""
        if not row.pickup:
            return 0.0
        draw_meter(drawing, x + BAR_PAD_MM, top, row.bars[0].meter)
        start = x + meter_mm(row.bars[0].meter)
        end = start + float(row.pickup) * self.quarter_mm
        bar = self.song.pickup_bar
        if bar:
            self.draw_chords(drawing, bar, start + BAR_PAD_MM, start, end, top)
        for quarters in () if bar else _beats_to_bar(row):
            at = start + BAR_PAD_MM + float(quarters) * self.quarter_mm
            draw_stroke(drawing, at, top + 1 + BAR_LINE_MM - 2)
        self.draw_line(drawing, end, top)
        return end - x

    def draw_name(self, drawing: Drawing, section: Section, y: float) -> None:
        """Write a section's name, and what it changes, on a line of its own."""
        name = " ".join(filter(None, (self.letters.get(section.name, ""), section.name)))
        drawing.text(0, y, name, SECTION_SIZE, font_weight="bold")
        is_first = self.pickup_quarters(section) > 0
        told = [f"pickup of {self.song.pickup.words}"] if self.song.pickup and is_first else []
        words = ", ".join(told + _shown_settings(section.settings))
        if words:
            x = BOLD_SHARE * text_mm(name, SECTION_SIZE) + 4
            drawing.text(x, y, words, WORD_SIZE, font_style="italic")

    def draw_bar(
        self, drawing: Drawing, row: _LeadRow, index: int, x: float, top: float, width: float
    ) -> None:
        """Draw one bar: signs, ending, words, chords."""
        assert row.section is not None
        bar, signs = row.bars[index], row.signs[index]
        left = x + BAR_PAD_MM
        if signs.opens_repeat:
            draw_repeat(drawing, x, top, opens=True)
            left += 3.2
        if signs.ending:
            draw_ending(drawing, signs.ending, x, top, width)
        if self.shows_meter(row.section, bar) and not (row.pickup and index == 0):
            draw_meter(drawing, left, top, bar.meter)
            left += meter_mm(bar.meter)
        words = ", ".join(_over_bar(bar))
        if words:
            y = top - row.over_mm - 0.4
            drawing.text(left, y, words, WORD_SIZE, font_style="italic")
        right = x + width
        if bar.repeats_bar:
            draw_simile(drawing, (left + right) / 2, top)
        else:
            self.draw_chords(drawing, bar, left, x, right, top)
        if signs.passes:
            draw_repeat(drawing, right, top, opens=False)
            if (words := passes_words(signs.passes)) and signs.ending is None:
                at = right - text_mm(words, WORD_SIZE) - 1
                drawing.text(at, top - 0.6, words, WORD_SIZE, font_style="italic")
        else:
            self.draw_line(drawing, right, top)
            if bar.double_bar or bar is row.section.bars[-1]:
                self.draw_line(drawing, right - 0.9, top)

    def shows_meter(self, section: Section, bar: WrittenBar) -> bool:
        """Return whether a bar tells its meter.

        It does at the start, where the meter changes, and, in a song of several meters, where a
        section begins.
        """
        if bar.number == 1:
            return True
        place = section.bars.index(bar)
        if place:
            return section.bars[place - 1].meter != bar.meter
        return len({b.meter for s in self.song.sections for b in s.bars}) > 1

    def draw_line(self, drawing: Drawing, x: float, top: float) -> None:
        """Draw a bar line."""
        drawing.line(x, top + 1, x, top + 1 + BAR_LINE_MM)

    def draw_chords(
        self,
        drawing: Drawing,
        bar: WrittenBar,
        left: float,
        x: float,
        right: float,
        top: float,
    ) -> None:
        """Write a bar's chords where they are struck, all of one size."""
        beats = [
            max(left, x + BAR_PAD_MM + float(span.start_quarters) * self.quarter_mm)
            for span in bar.chords
        ]
        base = top + 1 + BAR_LINE_MM - 2
        texts = [
            span.push_sign.replace("<", "‹") + written_chord(span, self.song.notation)
            for span in bar.chords
        ]
        size, places = set_names(texts, beats, right - BAR_PAD_MM)
        ends = [*places[1:], right - BAR_PAD_MM]
        for number, (span, text, at, end) in enumerate(
            zip(bar.chords, texts, places, ends, strict=True), start=1
        ):
            ident = f"chord-{bar.number}-{number}"
            self.write_name(drawing, at, base, text, size, id=ident)
            if span.chord and bar.number in self.numerals:
                name = self.numerals[bar.number][number - 1]
                self.draw_numeral(drawing, name, at, base + 5, end - at - CHORD_GAP_MM)
            free = at + name_mm(text, size), end - CHORD_GAP_MM
            self.draw_beats(drawing, bar, span, free, x, base)

    def draw_numeral(self, drawing: Drawing, text: str, x: float, y: float, room: float) -> None:
        size = min(WORD_SIZE, WORD_SIZE * room / name_mm(text, WORD_SIZE))
        self.write_name(drawing, x, y, text, size)

    def write_name(
        self, drawing: Drawing, x: float, y: float, text: str, size: float, **attributes: str
    ) -> None:
        """Write the name of a chord: in print as a text, for all viewers of a drawing the same."""
        write = drawing.text if self.for_print else drawing.letters
        write(x, y, text, size, **attributes)

    def draw_beats(
        self,
        drawing: Drawing,
        bar: WrittenBar,
        span: ChordSpan,
        free: tuple[float, float],
        x: float,
        base: float,
    ) -> None:
        """Draw a stroke for each beat that a chord is held, where chords share a bar unevenly.

        ``free`` is the room between its name and the next.
        """
        if len({chord.length_quarters for chord in bar.chords}) < 2:
            return
        beat = bar.meter.beat_quarters
        for count in range(1, int(span.length_quarters / beat)):
            at = x + BAR_PAD_MM + float(span.start_quarters + count * beat) * self.quarter_mm
            if free[0] < at < free[1]:
                draw_stroke(drawing, at, base)


def _new_page() -> Drawing:
    return Drawing(font_family=f"{TEXT_FONT}, serif")


def _row_quarters(bars: Sequence[WrittenBar]) -> float:
    return float(sum(bar.meter.bar_quarters for bar in bars))


def _beats_to_bar(row: _LeadRow) -> list[Fraction]:
    """Return where in a row's pickup the beats are, in quarters: those at the end of a bar."""
    beat = row.bars[0].meter.beat_quarters
    return [row.pickup % beat + index * beat for index in range(int(row.pickup // beat))]


def _shown_settings(settings: Settings) -> list[str]:
    """Return what a section changes, in the chart's own words."""
    return [
        f"{name} {pretty(text) if name == 'key' else text}"
        for name, text in setting_texts(settings).items()
        if name in SHOWN_SETTINGS
    ]


def form_line(song: Song) -> str:
    """Return the form as the chart has it, in words; empty where it has none."""
    return "Form: " + form_text(song).replace(" x", " ×") if song.form else ""


def _over_bar(bar: WrittenBar) -> Iterator[str]:
    """Yield what is told over a bar: its cues, then the words to the band."""
    yield from bar.cues
    yield from [bar.word.value] if bar.word else []
    yield from direction_words(bar.directions)


PUSH_WORDS = {
    Push.EIGHTH: "an eighth",
    Push.SIXTEENTH: "a sixteenth",
    Push.DOTTED_EIGHTH: "a dotted eighth",
    Push.QUARTER: "a quarter",
}


def _foot_lines(song: Song) -> Iterator[str]:
    """Yield the form in words, and what the sign of a push means where there is one."""
    if song.form:
        yield form_line(song)
    pushes = {span.push for s in song.sections for bar in s.bars for span in bar.chords}
    for push, words in PUSH_WORDS.items():
        if push in pushes:
            yield f"{push.sign.replace('<', '‹')} {words} early"
