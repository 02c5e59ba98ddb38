"""Where a record has the bars of a chart, in words for a terminal of 80 columns, and as data."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from textwrap import wrap

from groove.events import Bar
from groove.record.aligned import HeardSong
from groove.record.form_edits import EditKind, FormEdit, form_edits
from groove.record.heard_form import (
    SURE_FROM,
    HeardSection,
    confidence,
    heard_form,
    heard_sections,
    is_as_given,
    tempo_bpm,
    unsure_runs,
)
from groove.text.counts import counted

COLUMNS = 80
OWN_COPY = "A recording is for your own practice: use your own copy, and pass none on."
FASTER_SHARE = 0.025
"""From this much on a change of tempo is told (common practice, no source)."""
TOLD_CENTS = 5
_MOST_RUNS = 12
_STEPS = ("", "a half step", "a whole step", "a minor third", "a major third", "a fourth")


def align_text(
    heard: HeardSong, bars: Sequence[Bar], line_secs: Sequence[float], *, title: str, given: str
) -> str:
    """Return what is told of a record; ``given`` is the form as the chart has it."""
    sections = heard_sections(heard, bars, line_secs)
    blocks = [
        _wrapped(f"{title}: {counted(len(heard.bars), 'bar')}, confidence {confidence(heard):.2f}"),
        list(_table(sections)),
        [line for told in _told(heard, bars, sections, given) for line in _wrapped(told)],
        [OWN_COPY],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def time_lines(heard: HeardSong, bars: Sequence[Bar], record: str) -> Iterator[str]:
    """Yield what is to be known of the band on a record's time, a line each."""
    yield (
        f"on the time of {record}: {counted(len(heard.bars), 'bar')} from "
        f"{sec_text(heard.bars[0].sec)} on, confidence {confidence(heard):.2f}"
    )
    yield from _tuning(heard)
    if not is_as_given(heard, bars):
        yield "The record has another form than the chart, and the band with it: see groove align."


def _wrapped(text: str) -> list[str]:
    return wrap(text, COLUMNS, subsequent_indent="  ", break_on_hyphens=False)


def sec_text(sec: float) -> str:
    """Return a place in a record: ``1:07.3``."""
    tenths = round(sec * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"


def _table(sections: Sequence[HeardSection]) -> Iterator[str]:
    """Yield a line for each section: its bars, where it begins, its tempo."""
    width = min(30, max(len("section"), *(len(each.name) for each in sections)))
    yield f"{'section':<{width}}     bars       at   tempo"
    for each in sections:
        first, last = each.bars
        bars = f"{first}-{last}" if first != last else f"{first}"
        at = sec_text(each.sec)
        line = f"{each.name[:width]:<{width}}  {bars:>7}  {at:>7}   {each.tempo_bpm:5.1f}"
        yield line + ("" if each.is_whole else "   not all of it")


def _told(
    heard: HeardSong, bars: Sequence[Bar], sections: Sequence[HeardSection], given: str
) -> Iterator[str]:
    symbol = bars[0].meter.tempo_symbol
    yield f"Tempo {symbol} = {tempo_bpm(heard, bars):.1f}." + _changes(sections)
    yield from _tuning(heard)
    yield (
        f"Bar {bars[heard.bars[0].index].ref.written_bar} begins at "
        f"{sec_text(heard.bars[0].sec)}, the last one ends at {sec_text(heard.bars[-1].end_sec)} "
        f"of {sec_text(heard.length_sec)}."
    )
    if not is_as_given(heard, bars):
        yield from _other_form(heard, bars, sections, given)
    runs = unsure_runs(heard)
    if runs:
        names = [
            sec_text(first.sec) + (f"-{sec_text(last.end_sec)}" if first != last else "")
            for first, last in runs[:_MOST_RUNS]
        ]
        more = f" and {len(runs) - _MOST_RUNS} more" if len(runs) > _MOST_RUNS else ""
        count = sum(one.confidence < SURE_FROM for one in heard.bars)
        yield f"Not sure of {counted(count, 'bar')}, check by ear: at {', '.join(names)}{more}."


def _changes(sections: Sequence[HeardSection]) -> str:
    """Return where the record speeds up or slows down beside the chart."""
    told = []
    for before, after in pairwise(sections):
        share = (after.tempo_bpm / after.due_bpm) / (before.tempo_bpm / before.due_bpm) - 1
        if abs(share) >= FASTER_SHARE:
            way = "speeds up" if share > 0 else "slows down"
            told.append(f"{way} by {abs(share):.0%} into {after.name} at {sec_text(after.sec)}")
    return f" It {', '.join(told)}." if told else ""


def _tuning(heard: HeardSong) -> Iterator[str]:
    """Yield how the record is tuned beside the chart, where that is to be heard."""
    cents = round(heard.tuning_cents)
    if heard.semitones:
        step = _STEPS[min(abs(heard.semitones), 12 - abs(heard.semitones)) % 6] or "a tritone"
        way = "higher" if heard.semitones > 0 else "lower"
        yield (
            f"The record sounds {step} {way} than the chart: --transpose {heard.semitones} gives "
            f"the chart in its key; or tune the bass {step} {'up' if way == 'higher' else 'down'}."
        )
    if abs(cents) >= TOLD_CENTS:
        yield f"It is tuned {abs(cents)} cents {'high' if cents > 0 else 'low'}."


def _other_form(
    heard: HeardSong, bars: Sequence[Bar], sections: Sequence[HeardSection], given: str
) -> Iterator[str]:
    """Yield how the record's form differs from the chart's."""
    form = heard_form(sections)
    if form == given:
        yield f"The record has the chart's form (form: {given}), but not bar by bar:"
    else:
        yield f"The record has another form than the chart (form: {given}). As it is heard:"
        yield f"form: {form}"
    for edit in form_edits(heard, bars):
        yield edit_text(edit, bars)


def edit_text(edit: FormEdit, bars: Sequence[Bar]) -> str:
    """Return what a record does inside a section, by the chart's numbers of bars."""
    span = f"from {sec_text(edit.sec)} to {sec_text(edit.end_sec)}"
    if edit.bars is None:
        count = f"about {counted(edit.count, 'bar')}"
        return f"It plays what the chart does not have, {count}, {span}."
    first, last = (bars[index].ref for index in edit.bars)
    numbers = f"bar {last.written_bar}"
    if last.written_bar - first.written_bar != edit.count - 1:
        numbers = f"{counted(edit.count, 'bar')} from bar {first.written_bar} on"
    elif edit.count > 1:
        numbers = f"bars {first.written_bar}-{last.written_bar}"
    told = f"{numbers} of {last.section}"
    if edit.kind is EditKind.AGAIN:
        return f"It plays {told} again {span}."
    return f"It leaves out {told} at {sec_text(edit.sec)}."


def align_data(
    heard: HeardSong, bars: Sequence[Bar], line_secs: Sequence[float], *, given: str
) -> dict[str, object]:
    """Return the same as plain data: seconds, cents, beats a minute."""
    sections = heard_sections(heard, bars, line_secs)
    return {
        "bars": [
            {
                "played_bar": bars[one.index].ref.played_bar,
                "written_bar": bars[one.index].ref.written_bar,
                "section": bars[one.index].ref.section,
                "sec": round(one.sec, 3),
                "end_sec": round(one.end_sec, 3),
                "confidence": round(one.confidence, 2),
            }
            for one in heard.bars
        ],
        "sections": [
            {
                "section": each.name,
                "sec": round(each.sec, 3),
                "end_sec": round(each.end_sec, 3),
                "tempo_bpm": round(each.tempo_bpm, 2),
                "whole": each.is_whole,
            }
            for each in sections
        ],
        "edits": [_edit_data(edit, bars) for edit in form_edits(heard, bars)],
        "tuning_cents": round(heard.tuning_cents, 1),
        "semitones": heard.semitones,
        "tempo_bpm": round(tempo_bpm(heard, bars), 2),
        "form": heard_form(sections),
        "form_given": given,
        "as_given": is_as_given(heard, bars),
        "confidence": round(confidence(heard), 2),
    }


def _edit_data(edit: FormEdit, bars: Sequence[Bar]) -> dict[str, object]:
    """Return an edit as plain data; what is foreign has no bars of the chart."""
    refs = [bars[index].ref for index in edit.bars] if edit.bars else []
    return {
        "kind": edit.kind.value,
        "section": refs[-1].section if refs else None,
        "written_bars": [ref.written_bar for ref in refs] or None,
        "played_bars": [ref.played_bar for ref in refs] or None,
        "count": edit.count,
        "sec": round(edit.sec, 3),
        "end_sec": round(edit.end_sec, 3),
    }
