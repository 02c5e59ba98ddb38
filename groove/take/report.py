"""A judged take in the words of a teacher, for a terminal of 80 columns."""

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from msgspec import Struct

from groove.cut import runs
from groove.take.course import MeasuredBy
from groove.take.judgement import TakeReport, pooled, stands_out
from groove.take.reference import TakeReference
from groove.take.statistics import Known, PlaceFigures
from groove.take.wrong_pitches import wrong_words
from groove.text.counts import counted, spanned_bars
from groove.verdict import (
    CAUTIONS,
    STEADY_WORDS,
    Comparison,
    Evenness,
    Lean,
    Length,
    Trend,
    compared,
    is_usual_lead,
    limit,
    tight_limit_ms,
)

WIDTH = 80
STRIP_MS = 60
STRIP_COLUMNS = 41
"""A strip goes from 60 ms early to 60 ms late, 3 ms a column."""
MOST_SHOWN = 8
BEHIND_MAY_BE_STYLE, UNHEARD_MAY_BE_SOFT, POSSIBLE, LENGTHS_MAY_BE_STYLE = CAUTIONS
EACH_BEAT = {
    0: "the beat itself",
    1: "the e of each beat",
    2: "the and of each beat",
    3: "the a of each beat",
}
SLOT_WORDS = ("{}", "the e of {}", "the and of {}", "the a of {}")


class Block(Struct, frozen=True, kw_only=True):
    """A part of a report: a head, which may be empty, and its points, a sentence or a line each."""

    head: str
    points: tuple[str, ...]


def report_text(report: TakeReport, *, practise: Sequence[str] = (), beside: str = "") -> str:
    """Return the report for a terminal.

    ``practise`` are the lines that say what to play next, ``beside`` what the take is beside an
    earlier one.
    """
    first, *blocks = report_blocks(report, beside=beside)
    texts = [_wrapped(point) for point in first.points]
    texts += [_rows(block) for block in blocks]
    texts += [_strips(report), list(practise)]
    texts.append([line for note in report_cautions(report) for line in _wrapped(note)])
    return "\n\n".join("\n".join(lines) for lines in texts if lines) + "\n"


def report_blocks(report: TakeReport, *, beside: str = "") -> list[Block]:
    """Return what is told of a take: in a sentence, what held, what moved, what was heard."""
    return [
        Block(head="", points=tuple(filter(None, (_headline(report), beside)))),
        *(
            Block(head=head, points=tuple(points))
            for head, points in (
                ("What held", _held(report)),
                ("What moved", _moved(report)),
                ("What was heard", _unheard(report)),
                _passes(report),
            )
            if points
        ),
    ]


def beside_words(comparison: Comparison, earlier_sd_ms: float) -> str:
    """Return what a take is beside the one before, in a sentence."""
    return f"Beside your take before, which strayed by {earlier_sd_ms:.0f} ms: {comparison}."


def _wrapped(text: str, indent: str = "") -> list[str]:
    return wrap(text, WIDTH - 1, subsequent_indent=indent) or [""]


def _rows(block: Block) -> list[str]:
    """Return the points of a block under its head, each as a line or more."""
    return [
        block.head,
        *(line for point in block.points for line in _wrapped(f"  {point}", "    ")),
    ]


def _headline(report: TakeReport) -> str:
    """Return steady or not, in a sentence, and on what it rests."""
    figures = report.figures
    count = f"{figures.notes} of {counted(report.expected_count, 'note')} heard"
    if not report.reference.is_line:
        count = f"{counted(figures.notes, 'note')} heard on the grid"
    if report.steadiness is None or figures.sd_ms is None:
        least = f"{limit('notes_for_verdict'):.0f}"
        return f"Too few notes for a verdict: {count}, and it takes {least}."
    words = STEADY_WORDS[report.steadiness]
    if report.trend.moves:
        tempo = f"started at {figures.begin_bpm:.0f}, ended at {figures.end_bpm:.0f}"
        words = (
            f"{report.trend.capitalize()}: {tempo}. Apart from that {words[0].lower()}{words[1:]}"
        )
    if report.wrong:
        count += f", {len(report.wrong)} of them at another pitch"
    return f"{words} Spread {figures.sd_ms:.0f} ms (standard deviation), {count}."


def _held(report: TakeReport) -> list[str]:
    """Return what held, which is said first."""
    figures = report.figures
    if report.steadiness is None:
        return []
    points = []
    if report.trend is Trend.HOLDING and not report.stretches:
        points.append(f"the tempo: {_tempo_words(report)}")
    if report.lean is Lean.ON:
        points.append(f"on the beat: {_mean_words(report)}")
    good = [
        number
        for number, bar in figures.bars.items()
        if bar.notes >= limit("notes_for_bar")
        and bar.root_ms <= tight_limit_ms(figures.interval_ms)
    ]
    if good:
        points.append(f"{_bar_list(good)}: tight")
    if report.reference.is_line and not report.missed:
        points.append("every note was heard")
    swing = figures.swing
    if swing and not report.swings_apart:
        points.append(f"you swing as the band does, {swing.band_percent:.0f} %")
    points += _held_manner(report)
    if not points:
        steadiest = min(figures.bars.items(), key=lambda each: each[1].root_ms)
        points.append(f"bar {steadiest[0]} is your steadiest")
    return points


def _held_manner(report: TakeReport) -> Iterator[str]:
    """Yield that notes are as long as the part's, and evenly loud."""
    figures = report.figures
    if report.length is Length.AS_LONG and figures.lengths:
        yield f"notes held {Length.AS_LONG}: {100 * figures.lengths.share:.0f} % of its lengths"
    if report.loudness is Evenness.EVEN and figures.loudness:
        yield f"evenly loud: single notes stray by {figures.loudness.sd_db:.0f} dB"


def _manner_points(report: TakeReport) -> Iterator[str]:
    """Yield how notes are held and struck, where that is not as the part has it."""
    figures = report.figures
    if report.length in (Length.SHORTER, Length.LONGER) and figures.lengths:
        low, high = (100 * each for each in figures.lengths.interval)
        share = f"{100 * figures.lengths.share:.0f} % of its lengths ({low:.0f} to {high:.0f})"
        yield f"notes held {report.length}: {share}"
    if report.loudness in (Evenness.FAIRLY, Evenness.UNEVEN) and figures.loudness:
        yield f"loudness, {report.loudness}: single notes stray by {figures.loudness.sd_db:.0f} dB"
    if report.grows_by_db is not None:
        word = "louder" if report.grows_by_db > 0 else "softer"
        yield f"you get {word} by {abs(report.grows_by_db):.0f} dB from beginning to end"
    for slot, level in report.named_levels.items():
        word = "louder" if level.mean_db > 0 else "softer"
        yield (
            f"{_slot_words(report.reference, slot)} is {abs(level.mean_db):.0f} dB {word} than in "
            f"the part ({counted(level.notes, 'note')})"
        )


def _tempo_words(report: TakeReport) -> str:
    figures = report.figures
    return f"started at {figures.begin_bpm:.0f}, ended at {figures.end_bpm:.0f}{_slope(report)}"


def signed(value: float, digits: int = 0) -> str:
    """Return a number with its sign, and 0 with none."""
    told = f"{value:+.{digits}f}"
    return told[1:] if float(told) == 0 else told


def _slope(report: TakeReport) -> str:
    figures = report.figures
    if figures.drift_bpm_per_min is None or figures.drift_interval is None:
        return ""
    low, high = figures.drift_interval
    slope = signed(figures.drift_bpm_per_min, 1)
    return f" ({slope} bpm a minute, {signed(low, 1)} to {signed(high, 1)})"


def _mean_words(report: TakeReport) -> str:
    figures = report.figures
    low, high = figures.mean_interval_ms or (figures.mean_ms, figures.mean_ms)
    known = {
        Known.CLICK: ", against the click or the drums in the file",
        Known.LATENCY: ", with the latency that you gave",
    }.get(figures.known_by, "")
    mean = signed(figures.mean_ms)
    return f"{mean} ms on average ({signed(low)} to {signed(high)}){known}"


def _moved(report: TakeReport) -> list[str]:
    """Return what moved: tempo, side of the beat, places, kinds, swing, bars."""
    if report.steadiness is None:
        return []
    points = [*_tempo_points(report), *_lean_points(report), *_swing_points(report)]
    points += _slot_points(report)
    for kind, figures in report.named_kinds.items():
        points.append(f"{kind} come {_apart(figures)}")
    if report.worst_bars:
        roots = [
            f"{number} ({report.figures.bars[number].root_ms:.0f} ms)"
            for number in report.worst_bars
        ]
        points.append(
            f"farthest from the rest: {'bars' if len(roots) > 1 else 'bar'} {', '.join(roots)}"
        )
    return [*points, *_manner_points(report)]


def _tempo_points(report: TakeReport) -> Iterator[str]:
    figures, reference = report.figures, report.reference
    ratio = figures.tempo_bpm / reference.tempo_bpm
    if figures.measure is not MeasuredBy.REFERENCE and abs(ratio - 1) > 0.01:
        yield (
            f"you play at {figures.tempo_bpm:.1f}, the reference is written at "
            f"{reference.tempo_bpm:.1f}"
        )
    if report.trend.moves:
        yield f"the tempo, {report.trend}: {_tempo_words(report)}"
    for trend, sign in ((Trend.RUSHING, 1), (Trend.DRAGGING, -1)):
        spans = [each for each in report.stretches if each.percent * sign > 0]
        if spans:
            told = [
                f"{spanned_bars([(each.first, each.last)])} ({signed(each.percent)} %)"
                for each in spans
            ]
            yield f"{trend} in {', '.join(told[:MOST_SHOWN])}"


def _lean_points(report: TakeReport) -> Iterator[str]:
    if report.lean is Lean.BEHIND:
        yield f"behind the beat: {_mean_words(report)}"
    if report.lean is Lean.AHEAD:
        usual = "; a little early is usual" if is_usual_lead(report.figures.mean_ms) else ""
        yield f"ahead of the beat: {_mean_words(report)}{usual}"


def _swing_points(report: TakeReport) -> Iterator[str]:
    swing = report.figures.swing
    if swing and report.swings_apart:
        is_small = abs(swing.apart_ms) < limit("swing_ms")
        heard = "; most listeners would not hear it" if is_small else ""
        yield f"you swing {swing.own_percent:.0f} %, the band {swing.band_percent:.0f} %{heard}"


def _slot_points(report: TakeReport) -> Iterator[str]:
    """Yield which places of the bar are early or late, but what the swing has told already."""
    swung = {note.slot for note in report.reference.notes if note.is_swung}
    told = {slot for slot in swung if report.swings_apart}
    everywhere = report.figures.slot_bias_ms
    if report.reference.bars[0].meter.beat_quarters == 1:
        for rest, words in EACH_BEAT.items():
            slots = [slot for slot in everywhere if slot % 4 == rest and slot not in told]
            together = pooled([everywhere[slot] for slot in slots]) if len(slots) > 1 else None
            if together and stands_out(together):
                yield f"{words} comes {_apart(together)}"
                told |= set(slots)
    for slot, figures in report.named_slots.items():
        if slot not in told:
            yield f"{_slot_words(report.reference, slot)} comes {_apart(figures)}"


def _slot_words(reference: TakeReference, slot: float) -> str:
    """Return a place of the bar as players count it: ``the and of 2``."""
    a_beat = 4 * float(reference.bars[0].meter.beat_quarters)
    beat, rest = int(slot // a_beat) + 1, slot % a_beat
    if a_beat == 4 and rest in (0, 1, 2, 3):
        return SLOT_WORDS[int(rest)].format(f"beat {beat}" if rest == 0 else beat)
    return f"beat {1 + slot / a_beat:.3g}"


def _apart(figures: PlaceFigures) -> str:
    word = "early" if figures.mean_ms < 0 else "late"
    return (
        f"{abs(figures.mean_ms):.0f} ms {word} beside the rest ({counted(figures.notes, 'note')})"
    )


def _unheard(report: TakeReport) -> list[str]:
    """Return what was not heard, heard beside what was due, or heard otherwise."""
    reference = report.reference
    points = []
    left_out = set(report.left_out)
    missed = [
        index
        for index in report.missed
        if reference.bars[reference.notes[index].bar].number not in left_out
    ]
    if report.begun is not reference.bars[0] and reference.is_line:
        points.append(f"the take begins in bar {report.begun.number}")
    if report.ended is not reference.bars[-1] and reference.is_line:
        points.append(f"the take ends in bar {report.ended.number}")
    if report.left_out:
        points.append(f"left out: {_bar_list(report.left_out)}")
    if report.again:
        points.append(f"played once more: {_bar_list(report.again)}")
    points += _places("not heard", missed, reference)
    if report.take.tuning_semitones:
        apart = report.take.tuning_semitones
        points.append(
            f"all of it sounds {abs(apart):.1f} semitones {'lower' if apart < 0 else 'higher'} "
            "than the part: pitches are compared with that taken off"
        )
    points += _wrong_points(report)
    if report.extra:
        secs = [f"{report.take.notes[index].sec:.1f}" for index in report.extra[:MOST_SHOWN]]
        more = _more(len(report.extra))
        noun = counted(len(report.extra), "possible extra note")
        points.append(f"{noun}, in seconds of the file: {', '.join(secs)}{more}")
    return points


def _wrong_points(report: TakeReport) -> Iterator[str]:
    """Yield what was heard where something else stands, by bars."""
    words = wrong_words(report)
    if words:
        yield f"{counted(len(report.wrong), 'note')} heard at another pitch"
        yield from words[:MOST_SHOWN]
    if len(words) > MOST_SHOWN:
        yield f"{_more(len(words)).strip()}, in --json"


def _places(what: str, indices: Sequence[int], reference: TakeReference) -> list[str]:
    if not indices:
        return []
    places = [reference.place_words(index) for index in indices[:MOST_SHOWN]]
    return [f"{counted(len(indices), 'note')} {what}: {'; '.join(places)}{_more(len(indices))}"]


def _more(count: int) -> str:
    return f" and {count - MOST_SHOWN} more" if count > MOST_SHOWN else ""


def _passes(report: TakeReport) -> tuple[str, list[str]]:
    """Return the passes of a loop, one beside the other."""
    passes = report.figures.passes
    if len(passes) < 2:
        return "", []
    points = [
        f"pass {number}: strays by {each.root_ms:.0f} ms, {signed(each.mean_ms)} on average"
        for number, each in enumerate(passes, 1)
    ]
    rising = sorted(range(len(passes)), key=lambda index: passes[index].root_ms)
    best, last = passes[rising[0]], passes[rising[-1]]
    beside = compared(best.root_ms, best.notes - 1, last.root_ms, last.notes - 1)
    if beside is Comparison.STEADIER:
        return f"Pass by pass: {rising[0] + 1} is the steadiest", points
    return f"Pass by pass: {Comparison.NO_DIFFERENCE}", points


def _strips(report: TakeReport) -> list[str]:
    """Return a strip a bar: every sign is a note, early to the left."""
    by_bar: dict[int, list[float]] = {}
    for pair, deviation in zip(report.alignment.pairs, report.figures.deviations_ms, strict=True):
        note = report.reference.notes[pair.expected]
        number = report.reference.bars[note.bar].number
        by_bar.setdefault(number, []).append(deviation)
    half = STRIP_COLUMNS // 2
    head = f"{'':10}{'early':<{half}}0{'late':>{half}}"
    lines = [head]
    for number, deviations in by_bar.items():
        mean = sum(deviations) / len(deviations)
        lines.append(f"bar {number:>4} |{strip(deviations)}|  {signed(mean):>4} ms")
    lines.append(f"{'':10}{-STRIP_MS:<{half}}ms{STRIP_MS:>{half - 1}}   . one note, : two, # more")
    return lines


def strip(deviations_ms: Iterable[float]) -> str:
    """Return deviations as a row of signs; what lies beyond the row stands at its end."""
    half = STRIP_COLUMNS // 2
    counts = [0] * STRIP_COLUMNS
    for deviation in deviations_ms:
        column = half + round(deviation / STRIP_MS * half)
        counts[min(STRIP_COLUMNS - 1, max(0, column))] += 1
    signs = [" .:#"[min(3, count)] for count in counts]
    if not counts[half]:
        signs[half] = "|"
    return "".join(signs)


def report_cautions(report: TakeReport) -> Iterator[str]:
    """Yield what a reader of the numbers must know."""
    figures = report.figures
    if report.alignment.is_ambiguous and not report.alignment.starts_ambiguously:
        yield (
            "Which bars were played is ambiguous: others left out or repeated would explain the "
            "take nearly as well."
        )
    if report.alignment.starts_ambiguously and report.reference.is_line:
        yield (
            "Where the take begins is ambiguous: another start explains it nearly as well. "
            "--from SECONDS says where in the file the song begins."
        )
    if not figures.known_by:
        yield (
            "Early and late are relative to your own average: from the bass alone a player who is "
            "late cannot be told from a recording that is. Drums or a click in the file, or "
            "--latency MS, would tell."
        )
    if figures.measure is not MeasuredBy.REFERENCE:
        yield f"Single notes are measured against {figures.measure}."
    if report.lean is Lean.BEHIND:
        yield f"{_sentence(BEHIND_MAY_BE_STYLE)}"
    if report.length in (Length.SHORTER, Length.LONGER):
        yield _sentence(LENGTHS_MAY_BE_STYLE)
    if report.missed:
        yield _sentence(UNHEARD_MAY_BE_SOFT)
    if report.extra:
        yield _sentence(POSSIBLE)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _bar_list(numbers: Iterable[int]) -> str:
    """Return bars as a player says them: ``bars 1-4, 7``."""
    return spanned_bars(runs(sorted(set(numbers))))
