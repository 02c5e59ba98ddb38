"""The bars of a line that nobody gave a chart for: chords as they are heard, in a drafted chart."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from msgspec import Struct

from groove.chart.parse import parse_chart
from groove.errors import OptionError
from groove.harmony.analysis import Analysis
from groove.pipeline import analyse_song
from groove.study.draft import DraftBar, draft_chart
from groove.study.frames import chart_frames
from groove.study.heard_chords import Beat, FoundChord, PartNote, chords_within, found_chords
from groove.study.studied_line import BarFrame
from groove.timing import Meter

MOST_STUDIED_BARS = 5_000


class SoundedBar(Struct, frozen=True, kw_only=True):
    """A bar that is heard: where it starts in quarters, its meter, the marker it lies under."""

    start_quarters: Fraction
    meter: Meter
    section: str = ""


def drafted(
    title: str, tempo_qpm: Fraction, bars: Iterable[SoundedBar], notes: Sequence[PartNote]
) -> tuple[str, tuple[BarFrame, ...]]:
    """Return a chart of what parts play, as text, and its bars with how sure each chord is.

    ``tempo_qpm`` is in quarters a minute.  Raises OptionError for too many bars.
    """
    counted = list(_few(bars))
    chords = found_chords(notes, list(_beats(counted)))
    tempo = tempo_qpm / counted[0].meter.tempo_unit_quarters
    made = [
        DraftBar(meter=bar.meter, section=bar.section, chords=tuple(_in_bar(chords, bar)))
        for bar in counted
    ]
    plain = analyse_song(parse_chart(draft_chart(title, tempo, made, 0), source="draft"))
    draft = draft_chart(title, tempo, made, _signature(plain))
    sure = [(chord.start_quarters, chord.confidence) for chord in chords]
    analysis = analyse_song(parse_chart(draft, source=f"draft of {title}"))
    return draft, chart_frames(analysis, sure)


def _few(bars: Iterable[SoundedBar]) -> Iterator[SoundedBar]:
    """Yield bars up to as many as one song may have."""
    for count, bar in enumerate(bars):
        if count >= MOST_STUDIED_BARS:
            raise OptionError(
                f"the file has more than {MOST_STUDIED_BARS} bars", hint="expected one song"
            )
        yield bar


def _beats(bars: Sequence[SoundedBar]) -> Iterator[Beat]:
    for bar in bars:
        length = bar.meter.beat_quarters
        for beat in range(bar.meter.beats_per_bar):
            yield Beat(
                start_quarters=bar.start_quarters + beat * length,
                length_quarters=length,
                is_bar=beat == 0,
            )


def _signature(analysis: Analysis) -> int:
    """Return the signature of the key that the chords say."""
    return analysis.key.nearest.respelled().signature_fifths


def _in_bar(chords: Sequence[FoundChord], bar: SoundedBar) -> Iterator[tuple[int, FoundChord]]:
    """Yield the chords of a bar by beat, from 0; the first is the one that goes on from before."""
    end = bar.start_quarters + bar.meter.bar_quarters
    for at, chord in chords_within(chords, bar.start_quarters, end):
        yield int(at / bar.meter.beat_quarters), chord
