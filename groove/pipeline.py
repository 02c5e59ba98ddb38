"""From the text of a chart to a performance, as one pure function."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from groove.arrange.bass import arrange_bass
from groove.arrange.comping import arrange_comping
from groove.arrange.drums import arrange_drums
from groove.arrange.fills import plan_fills
from groove.arrange.plan import Plan, plan_song
from groove.arrange.spans import Span, chord_onsets, chord_spans
from groove.cells.model import Library
from groove.chart.form import PlayedBar
from groove.chart.model import Song, Vary
from groove.chart.parse import parse_chart
from groove.chart.reach import check_written
from groove.chart.riffs import riffs_by_name
from groove.chart.tempo_map import song_tempo_map
from groove.chart.transpose import retune_song, song_in_key, transpose_song
from groove.cut import piece, with_click
from groove.errors import OptionError
from groove.events import Bar, ChordOnset, Marker, Part, Performance, note_order
from groove.harmony.analysis import Analysis, analyse
from groove.neck.instrument import STANDARD, Tuning
from groove.notices import Notice, NoticeKind, make_notice
from groove.perform import perform
from groove.theory.general_midi import BASS_TONES
from groove.theory.keys import Key
from groove.timing import (
    FASTEST_QPM,
    SLOWEST_QPM,
    TempoMap,
    microseconds_to_qpm,
)


class PerformOptions(Struct, frozen=True, kw_only=True, repr_omit_defaults=True):
    """What is asked for above what the chart says; every field may be left out.

    ``tempo_bpm`` is the song's tempo in its own beat; ``tempo_percent`` (100 as written) scales
    every tempo; ``vary`` stands above the chart's and its sections'; ``transpose`` is in semitones,
    ``key`` the key to play in; ``sections``, ``bars`` (written bars) and ``times`` choose a piece
    to practise; ``tight`` leaves out the human hand.  ``tuning`` is the instrument in hand and
    stands above the chart's, ``usual_tuning`` is the one where the chart says nothing; neither
    moves a note that it has (see ``part_tuning``).
    """

    tempo_bpm: Fraction | None = None
    tempo_percent: Fraction | None = None
    feel: str | None = None
    vary: Vary | None = None
    transpose: int = 0
    key: Key | None = None
    seed: int | None = None
    tight: bool = False
    click: bool = False
    sections: tuple[str, ...] = ()
    bars: range | None = None
    times: int = 1
    tuning: Tuning | None = None
    usual_tuning: Tuning = STANDARD


DEFAULT_OPTIONS = PerformOptions()


def perform_chart(
    text: str,
    library: Library,
    options: PerformOptions = DEFAULT_OPTIONS,
    *,
    source: str = "chart",
) -> Performance:
    """Return the performance of a chart.

    Raises ChartError for what cannot be read or has no such feel or cell, OptionError for what
    cannot be done.
    """
    return perform_song(parse_chart(text, source=source), library, options)


def perform_song(
    song: Song, library: Library, options: PerformOptions = DEFAULT_OPTIONS
) -> Performance:
    """Return the performance of a song that was read already."""
    return perform_analysis(analyse_song(song, options), library, options)


def analyse_song(song: Song, options: PerformOptions = DEFAULT_OPTIONS) -> Analysis:
    """Return what the chords of a song say, in the key that was asked for.

    What is performed, and what is told of the song beside it, both come from this one value.
    """
    in_hand = retune_song(song, song_tuning(song, options))
    return analyse(moved_song(in_hand, options))


def perform_analysis(
    analysis: Analysis, library: Library, options: PerformOptions = DEFAULT_OPTIONS
) -> Performance:
    """Return the performance of an analysed song; its key has been chosen already."""
    song = analysis.song
    tempo_map = _scaled_tempo(song, analysis.bars, options)
    plan = plan_analysis(analysis, library, options, tempo_map=tempo_map)
    plan = replace(plan, notices=(*song.notices, *plan.notices, *_key_notices(analysis)))
    whole = band(song, plan, analysis.bar_keys, tempo_map, options)
    whole = piece(whole, options.sections, options.bars, options.times)
    return with_click(whole) if options.click else whole


def plan_analysis(
    analysis: Analysis,
    library: Library,
    options: PerformOptions = DEFAULT_OPTIONS,
    *,
    tempo_map: TempoMap | None = None,
) -> Plan:
    """Return who plays what in an analysed song, at its own tempo where none is given.

    Raises ChartError for written notes that the instrument has not and for unknown names.
    """
    song = analysis.song
    riffs = riffs_by_name(song)
    check_written(analysis.bars, analysis.bar_keys, riffs, song_tuning(song, options))
    return plan_song(
        analysis.bars,
        library,
        tempo_map or _scaled_tempo(song, analysis.bars, options),
        seed=options.seed,
        feel_option=options.feel,
        vary=options.vary,
        riffs=riffs,
        tempo_scale=_tempo_scale(song, options),
    )


def band(
    song: Song,
    plan: Plan,
    keys: Sequence[Key],
    tempo_map: TempoMap,
    options: PerformOptions,
) -> Performance:
    """Return what the whole band plays."""
    onsets = chord_onsets(plan.bars)
    spans = chord_spans(plan.bars, onsets)
    plan = replace(plan, notices=(*plan.notices, *_unheard_chords(plan, onsets, spans)))
    tuning = part_tuning(song, options)
    fills = plan_fills(plan)
    bass = arrange_bass(plan, spans, fills.bass, keys, tuning)
    plan = replace(plan, notices=(*plan.notices, *bass.notices))
    parts = (
        bass.notes,
        arrange_drums(plan, spans, fills.drums, fills.left_to_drums(plan, bass.filled)),
        arrange_comping(plan, spans, bass.notes),
    )
    played = [
        note for part in parts for note in perform(part, plan, tempo_map, tight=options.tight)
    ]
    return Performance(
        title=song.title,
        notes=tuple(sorted(played, key=note_order)),
        bars=_performed_bars(plan, onsets, keys),
        tempo_map=tempo_map,
        markers=tuple(
            Marker(bar.start_tick, bar.bar.ref.section)
            for bar in plan.bars
            if bar.bar.is_section_start
        ),
        programs=programs(plan),
        notices=plan.notices,
        count_in=song.count_in,
        end_tick=plan.bars[-1].end_tick,
    )


def _unheard_chords(
    plan: Plan, onsets: Sequence[tuple[ChordOnset, ...]], spans: Sequence[Span]
) -> Iterator[Notice]:
    """Yield a notice for each chord that lasts no longer than the push after it."""
    heard = {(span.bar, span.onset.tick) for span in spans}
    for index, (bar, own) in enumerate(zip(plan.bars, onsets, strict=True)):
        for onset in own:
            if onset.chord and (index, onset.tick) not in heard:
                yield Notice(
                    kind=NoticeKind.UNHEARD,
                    bar=bar.bar.ref.written_bar,
                    values=(("symbol", onset.symbol),),
                )


def moved_song(song: Song, options: PerformOptions) -> Song:
    """Return the song in the key that was asked for, spelled with a signature that there is."""
    moved = song
    if options.key:
        own = analyse(song).key
        moved = song_in_key(song, own, options.key)
        if own.mode != options.key.mode:
            stays = Key(options.key.tonic, own.mode).respelled().name
            notice = make_notice(NoticeKind.MODE_STAYS, mode=str(own.mode), key=stays)
            moved = replace(moved, notices=(*moved.notices, notice))
    moved = transpose_song(moved, options.transpose)
    if moved.settings.key:
        return moved
    from groove.harmony.respelling import respelled_song

    return respelled_song(moved)


def _tempo_scale(song: Song, options: PerformOptions) -> Fraction:
    """Return how many times as fast as the chart states the song is asked for."""
    scale = Fraction(1)
    if options.tempo_bpm is not None:
        scale = options.tempo_bpm / song.tempo.bpm
    if options.tempo_percent is not None:
        scale *= options.tempo_percent / 100
    return scale


def _scaled_tempo(song: Song, bars: tuple[PlayedBar, ...], options: PerformOptions) -> TempoMap:
    """Return the song's tempo as asked for.  Raises OptionError where it leaves the range."""
    tempo_map = song_tempo_map(song, bars, scale=_tempo_scale(song, options))
    for change in tempo_map.changes:
        qpm = microseconds_to_qpm(change.microseconds)
        if not SLOWEST_QPM - 0.01 <= qpm <= FASTEST_QPM + 0.01:
            raise OptionError(
                f"the tempo comes to {qpm:.0f} quarters a minute",
                hint=f"expected {SLOWEST_QPM} to {FASTEST_QPM}; the chart says "
                f"{float(song.tempo.bpm):g}",
            )
    return tempo_map


def _key_notices(analysis: Analysis) -> Iterator[Notice]:
    """Yield what is told of the key: that it was found, and that MIDI has no word for a mode."""
    keys = zip(analysis.bars, analysis.bar_keys, strict=True)
    found = dict.fromkeys(key for bar, key in keys if not bar.key)
    if found and any(span.chord for bar in analysis.bars for span in bar.chords):
        names = ", then ".join(key.name for key in found)
        yield Notice(kind=NoticeKind.KEY, values=(("key", names),))
    for key in dict.fromkeys(analysis.bar_keys):
        if key.nearest != key:
            values = (("key", key.name), ("nearest", key.nearest.name))
            yield Notice(kind=NoticeKind.MODE, values=values)


def song_tuning(song: Song, options: PerformOptions = DEFAULT_OPTIONS) -> Tuning:
    """Return the instrument in the player's hands: as asked for, else the chart's, else the usual.

    It says where notes lie; for the pitches see ``part_tuning``.
    """
    return options.tuning or song.settings.tuning or options.usual_tuning


def part_tuning(song: Song, options: PerformOptions = DEFAULT_OPTIONS) -> Tuning:
    """Return the tuning in whose range the bass part is written: the chart's, else a four-string's.

    So another instrument moves no note of it (tab and MIDI agree, whichever was told), except one
    that does not go down as far: then the part is written for that.
    """
    written, in_hand = song.settings.tuning or STANDARD, song_tuning(song, options)
    return written if in_hand.lowest_pitch <= written.lowest_pitch else in_hand


def _performed_bars(
    plan: Plan, onsets: Sequence[tuple[ChordOnset, ...]], keys: Sequence[Key]
) -> tuple[Bar, ...]:
    """Return the bars on the tick axis with all that the band is told in them."""
    return tuple(
        Bar(
            ref=bar.bar.ref,
            start_tick=bar.start_tick,
            length_ticks=bar.end_tick - bar.start_tick,
            meter=bar.bar.meter,
            key=key,
            chords=own,
            swing=bar.swing,
            in_triplets=bar.in_triplets,
            feel=bar.feel.name,
            word=bar.bar.word,
            place=bar.bar.place,
        )
        for bar, own, key in zip(plan.bars, onsets, keys, strict=True)
    )


def programs(plan: Plan) -> tuple[tuple[Part, int], ...]:
    """Return the programs of the feel that the song begins with: a band keeps its instruments.

    The bass has the tone that the chart asks for.
    """
    feel = plan.bars[0].feel
    tone = plan.bars[0].bar.settings.bass_tone
    return (
        (Part.BASS, BASS_TONES[tone.name.casefold()] if tone else feel.bass_program),
        (Part.DRUMS, feel.drum_kit),
        (Part.KEYS, feel.keys_program),
        (Part.CLICK, feel.drum_kit),
    )
