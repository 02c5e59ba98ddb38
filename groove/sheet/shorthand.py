"""Signs of a copyist for bars like those before, and for rests of several bars.

``%`` stands for the bar before, its like with two strokes for the two bars before, and bars of
rest are counted in one (Gould, *Behind Bars*, 2011; from memory).  They stand on paper alone.
"""

from collections.abc import Hashable, Iterator, Sequence

from msgspec.structs import replace

from groove.sheet.score import Head, Measure

LEAST_STROKES = 3
"""A bar with fewer strokes is read as fast as the sign."""
LEAST_RESTS = 2


def with_shorthand(measures: Sequence[Measure]) -> tuple[Measure, ...]:
    """Return the measures of a part with the signs of a copyist.

    A measure that may be a sign keeps its notes, for no line begins with one.
    """
    return tuple(_counted_rests(_with_repeats(measures)))


def _with_repeats(measures: Sequence[Measure]) -> list[Measure]:
    """Return measures, those marked that are as the one or the two before."""
    found = list(measures)
    signs = [_notes(measure) for measure in measures]
    for index in range(1, len(found)):
        if found[index].like_before:
            continue
        if _repeats(found, signs, index, 1):
            found[index] = replace(found[index], like_before=1)
        elif _is_pair(found, signs, index):
            found[index] = replace(found[index], like_before=2)
            found[index + 1] = replace(found[index + 1], like_before=2)
    return found


def _is_pair(measures: Sequence[Measure], signs: Sequence[Hashable], index: int) -> bool:
    """Return whether this bar and the next are as the two before."""
    if index < 2 or index + 1 >= len(measures):
        return False
    last = index + 1
    return (
        _repeats(measures, signs, index, 2)
        and _repeats(measures, signs, last, 2)
        and _goes_on(measures[index - 1], measures[index])
    )


def _repeats(measures: Sequence[Measure], signs: Sequence[Hashable], index: int, back: int) -> bool:
    """Return whether a bar has the notes of one before it, with nothing between that parts them."""
    own = signs[index]
    return (
        own is not None
        and own == signs[index - back]
        and all(
            _goes_on(measures[at - 1], measures[at]) for at in range(index - back + 1, index + 1)
        )
    )


def _goes_on(before: Measure, measure: Measure) -> bool:
    """Return whether a bar follows another without a sign or a word that begins something."""
    begins = (
        measure.heading,
        measure.as_before,
        measure.opens_repeat,
        measure.shows_meter,
        measure.shows_key,
        measure.shows_number,
        before.passes,
        before.jumps,
        measure.jumps,
        before.ending != measure.ending,
        before.as_before,
    )
    return not any(begins)


def _notes(measure: Measure) -> Hashable:
    """Return what the staves of a bar show; None where no sign may stand for it."""
    events, heads = measure.events, measure.heads
    struck = sum(1 for event in events if event.heads and not event.heads[0].tied_in)
    is_tied = any(head.is_led_into for event in events[:1] for head in event.heads)
    leaves = any(
        head.leads_on
        for voice in measure.voices
        for event in voice.events[-1:]
        for head in event.heads
    )
    if measure.is_slashed or any(event.is_marked for event in events):
        return None
    if struck < LEAST_STROKES or is_tied or leaves or len(heads) < LEAST_STROKES:
        return None
    return tuple(
        tuple(
            (event.value, event.articulations, tuple(map(_seen_head, event.heads)))
            for event in voice.events
        )
        for voice in measure.voices
    )


def _seen_head(head: Head) -> Hashable:
    """Return what a player sees of a head; which finger plucks it makes no other bar."""
    place = head.struck_place
    return (
        head.pitch,
        head.shows_accidental,
        head.notehead,
        head.tied_out,
        head.slides_out,
        head.slur_out,
        head.touch_words,
        place and (place.string, place.fret),
    )


def _counted_rests(measures: Sequence[Measure]) -> Iterator[Measure]:
    """Yield measures, bars of rest in a row as one; numbers go on without a gap."""
    first = 0
    number = measures[0].number
    while first < len(measures):
        stop = first + 1
        if _is_rest(measures[first]):
            while stop < len(measures) and _rests_on(measures[stop - 1], measures[stop]):
                stop += 1
        run = measures[first:stop]
        if len(run) < LEAST_RESTS:
            yield replace(run[0], number=number)
        else:
            yield _rest_measure(run, number)
        number += 1
        first = stop


def _rest_measure(run: Sequence[Measure], number: int) -> Measure:
    """Return the measure that counts bars of rest."""
    last = run[-1]
    return replace(
        run[0],
        number=number,
        rest_bars=len(run),
        chords=(),
        passes=last.passes,
        ending=last.ending,
        ends_section=last.ends_section,
        ends_song=last.ends_song,
    )


def _is_rest(measure: Measure) -> bool:
    """Return whether nobody plays in a bar, and nothing is told in it but at its head."""
    is_quiet = not measure.heads
    marked = measure.hairpin or measure.ends_hairpin or measure.as_before or measure.is_pickup
    return is_quiet and bool(measure.voices) and not marked and measure.ending is None


def _rests_on(before: Measure, measure: Measure) -> bool:
    """Return whether a bar of rest may be counted with the one before it."""
    marked = measure.words or measure.dynamic or measure.tempi
    ends = before.passes or before.ends_section
    return _is_rest(measure) and _goes_on(before, measure) and not marked and not ends
