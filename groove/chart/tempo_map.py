"""The tempo map of a song as it is played: each section's tempo, ramps and the last ritard."""

from collections.abc import Iterable, Iterator
from fractions import Fraction

from msgspec.structs import replace

from groove.chart.form import PlayedBar
from groove.chart.model import DEFAULT_METER, DEFAULT_TEMPO_BPM, Section, Song, Tempo
from groove.timing import TempoChange, TempoMap, qpm_to_microseconds, quarters_to_ticks

RITARD_END = Fraction(7, 10)
"""What is left of the tempo at the end of a ritard."""


def _section_tempo_qpm(song: Song, section: Section) -> tuple[Fraction, Fraction | None]:
    """Return a section's tempo in quarters per minute, and where it moves to.

    A section's own tempo counts the beat of its own meter, the song's that of the song's: at a
    change of meter without a tempo the quarter stays.
    """
    own = section.settings.tempo
    tempo = own or song.settings.tempo or Tempo(DEFAULT_TEMPO_BPM)
    own_meter = section.settings.meter if own else None
    meter = own_meter or song.settings.meter or DEFAULT_METER
    unit = meter.tempo_unit_quarters
    return tempo.bpm * unit, tempo.end_bpm * unit if tempo.end_bpm else None


def song_tempo_map(song: Song, bars: tuple[PlayedBar, ...], *, scale: Fraction) -> TempoMap:
    """Return the tempo of the whole song; ``scale`` multiplies every tempo (1 as written)."""
    changes: list[TempoChange] = []
    sections = {section.name: section for section in song.sections}
    for start, stop in _occurrence_spans(bars):
        section = sections[bars[max(start, _first_sounding(bars))].ref.section]
        low, high = _section_tempo_qpm(song, section)
        steps = _tempo_steps(bars[start:stop], low, high)
        for quarters, qpm in _slowed(steps, bars) if stop == len(bars) else steps:
            microseconds = qpm_to_microseconds(qpm * scale)
            if not changes or changes[-1].microseconds != microseconds:
                changes.append(TempoChange(quarters_to_ticks(quarters), microseconds))
    return TempoMap(tuple(changes))


def at_another_tempo(song: Song, scale: Fraction) -> Song:
    """Return the song with all of its tempi ``scale`` times as fast, as if its chart said so."""

    def scaled(tempo: Tempo | None) -> Tempo | None:
        if tempo is None:
            return None
        return Tempo(tempo.bpm * scale, tempo.end_bpm * scale if tempo.end_bpm else None)

    has_own = song.settings.tempo or song.first_section.settings.tempo
    own = song.settings.tempo if has_own else Tempo(DEFAULT_TEMPO_BPM)
    sections = tuple(
        replace(section, settings=replace(section.settings, tempo=scaled(section.settings.tempo)))
        for section in song.sections
    )
    return replace(song, settings=replace(song.settings, tempo=scaled(own)), sections=sections)


def _slowed(
    steps: Iterable[tuple[Fraction, Fraction]], bars: tuple[PlayedBar, ...]
) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield the tempi of the last section, slowed from its ritard on: one a beat.

    They come down evenly to 70 % where the last bar begins, or over the bar where it is the last
    itself (common practice, no source).
    """
    index = next((index for index, bar in enumerate(bars) if bar.directions.has_ritard), None)
    if index is None:
        yield from steps
        return
    own = list(steps)
    begin = bars[index].start_quarters
    last = bars[-1]
    end = last.start_quarters + (last.length_quarters if index == len(bars) - 1 else 0)
    yield from (step for step in own if step[0] < begin)
    for bar in bars[index:]:
        for beat in range(bar.meter.beats_per_bar):
            at = bar.start_quarters + beat * bar.meter.beat_quarters
            qpm = [tempo for quarters, tempo in own if quarters <= at][-1]
            share = min(Fraction(1), (at - begin) / (end - begin))
            yield at, qpm * (1 - (1 - RITARD_END) * share)


def _first_sounding(bars: tuple[PlayedBar, ...]) -> int:
    """Return the index of the first bar that is no pickup."""
    return 1 if bars[0].is_pickup else 0


def _occurrence_spans(bars: tuple[PlayedBar, ...]) -> Iterator[tuple[int, int]]:
    """Yield (first, one past last) for every occurrence; a pickup belongs to the first one."""
    starts = [index for index, bar in enumerate(bars) if bar.is_section_start]
    if bars[0].is_pickup:
        del starts[1]
    yield from zip(starts, [*starts[1:], len(bars)], strict=True)


def _tempo_steps(
    bars: tuple[PlayedBar, ...], qpm: Fraction, end_qpm: Fraction | None
) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield (quarters, quarters per minute): one step, or one a beat where the tempo moves."""
    begin = bars[0].start_quarters
    if end_qpm is None:
        yield begin, qpm
        return
    end = bars[-1].end_quarters
    for bar in bars:
        for beat in range(bar.meter.beats_per_bar):
            at = bar.start_quarters + beat * bar.meter.beat_quarters
            yield at, qpm + (end_qpm - qpm) * (at - begin) / (end - begin)
