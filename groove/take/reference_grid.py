"""The grid of a reference's bars, for a line of the player's own: every slot that may be struck."""

from collections.abc import Iterator
from statistics import median

from groove.perform import swung_offset
from groove.take.reference import ExpectedBar, ExpectedNote, TakeReference
from groove.timing import TICKS_PER_QUARTER

LOWEST_PITCH = 28
CHORD_WEIGHT, BEAT_WEIGHT, EIGHTH_WEIGHT, SIXTEENTH_WEIGHT = 1.0, 0.7, 0.4, 0.2
"""How likely a slot is to be struck: where a chord comes in, on a beat, between (no source)."""


def grid_notes(reference: TakeReference) -> Iterator[ExpectedNote]:
    """Yield the sixteenths of every bar, and the triplets where the part has any.

    Swung bars are swung as the part is; a slot has the chord's pitches, and where it comes in
    its bass note alone.
    """
    has_triplets = any(note.slot % 1 for note in reference.notes)
    shares = _shares(reference)
    for index, bar in enumerate(reference.bars):
        count = float(bar.meter.bar_quarters) * 4
        slots = [float(slot) for slot in range(int(count))]
        if has_triplets:
            thirds = [round(third * 4 / 3, 2) for third in range(int(count * 3 / 4))]
            slots = sorted({*slots, *thirds})
        for slot in slots:
            yield _slot_note(bar, index, slot, count, shares.get(index))


def _shares(reference: TakeReference) -> dict[int, float]:
    """Return the long share of a pair in each swung bar, by the part's own notes."""
    found: dict[float, list[float]] = {}
    for note in reference.notes:
        bar = reference.bars[note.bar]
        if note.is_swung:
            place = (note.sec - bar.start_sec) % bar.swing_pair_sec
            found.setdefault(bar.swing_pair_sec, []).append(place / bar.swing_pair_sec)
    shares = {pair: median(each) for pair, each in found.items()}
    return {
        index: shares[bar.swing_pair_sec]
        for index, bar in enumerate(reference.bars)
        if bar.swing_pair_sec in shares
    }


def _slot_note(
    bar: ExpectedBar, index: int, slot: float, count: float, share: float | None
) -> ExpectedNote:
    length = bar.end_sec - bar.start_sec
    slot_sec = length / count
    place = slot
    is_off = False
    if share is not None:
        quarter_sec = 4 * slot_sec
        unit = round(bar.swing_pair_sec / quarter_sec / 2 * TICKS_PER_QUARTER)
        at = round(slot * TICKS_PER_QUARTER / 4)
        place = swung_offset(at, unit, share) * 4 / TICKS_PER_QUARTER
        is_off = at % (2 * unit) == unit
    sec = bar.start_sec + place * slot_sec
    chords = [each for each in bar.chord_pitch_classes if each[0] <= sec + 0.02]
    tones = chords[-1][1] if chords else ()
    a_beat = float(bar.meter.beat_quarters) * 4
    starts = any(abs(each[0] - sec) < 0.02 for each in bar.chord_pitch_classes)
    weight = CHORD_WEIGHT if starts else SIXTEENTH_WEIGHT
    if not starts and slot % 2 == 0:
        weight = BEAT_WEIGHT if slot % a_beat == 0 else EIGHTH_WEIGHT
    return ExpectedNote(
        sec=sec,
        length_sec=slot_sec,
        pitches=tuple(
            LOWEST_PITCH + (tone - LOWEST_PITCH) % 12 for tone in (tones[:1] if starts else tones)
        ),
        bar=index,
        beat=1 + slot / a_beat,
        slot=slot,
        weight=weight,
        is_swung=is_off,
    )
