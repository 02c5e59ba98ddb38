"""Lines of the part that look alike, each drawn once: a long song repeats most of what it has.

A line is like an earlier one where its measures, their key and meter and what reaches over its ends
are the same, numbers of bars aside.  What is left to be drawn keeps the neighbours that it is bound
to (by a tie, a slide, a slur, a courtesy sign), every change of key or meter, and all lines that a
hairpin goes through.
"""

from bisect import bisect_right
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from msgspec.structs import fields, replace

from groove.sheet.score import Head, Measure, Score, Voice


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLines:
    """A part line by line.

    ``printed`` are the numbers of their first bars, ``starts`` the indices of their first measures,
    and one past the last; ``like`` is the line that each is drawn like, itself where it is the
    first of its kind; ``kept`` are the lines that have to be laid out.
    """

    printed: tuple[str, ...]
    starts: tuple[int, ...]
    like: tuple[int, ...]
    kept: tuple[int, ...]

    def kept_measures(self, score: Score) -> set[int]:
        """Return the numbers of the measures that have to be laid out."""
        return {
            measure.number
            for line in self.kept
            for measure in score.measures[self.starts[line] : self.starts[line + 1]]
        }

    @property
    def drawn(self) -> dict[int, int]:
        """The lines that have to be drawn, each with the number of its page among the kept."""
        pages = {line: page for page, line in enumerate(self.kept, start=1)}
        return {line: pages[line] for line in sorted(set(self.like))}


def part_lines(score: Score, line_starts: Collection[int]) -> PartLines:
    """Return the lines of a part; ``line_starts`` are the numbers of their first measures."""
    measures = score.measures
    begins = [i for i, measure in enumerate(measures) if not i or measure.number in line_starts]
    starts = (*begins, len(measures))
    crossed = set(_crossed(score))
    bound = [start in crossed for start in starts]
    under_hairpin = set(_under_hairpins(score, starts))
    first: dict[object, int] = {}
    like = []
    for line, (start, end) in enumerate(pairwise(starts)):
        own = measures[start:end]
        is_own = not line or line in under_hairpin or any(map(_changes_signature, own))
        if is_own:
            like.append(line)
            continue
        before = measures[start - 1] if bound[line] else None
        after = measures[end] if bound[line + 1] else None
        like.append(first.setdefault(_look(own, before, after), line))
    return PartLines(
        printed=tuple(str(measures[start].written_bar) for start in begins),
        starts=starts,
        like=tuple(like),
        kept=tuple(sorted(_kept(set(like), bound))),
    )


def _changes_signature(measure: Measure) -> bool:
    """Return whether a change of key or meter stands before a measure."""
    return measure.shows_key or measure.shows_meter


def _kept(drawn: set[int], bound: Sequence[bool]) -> set[int]:
    """Return the lines that have to be laid out, so that those that are drawn look as they do.

    ``bound`` says of every line whether it is bound to the one before it, and of the end that it
    is not.  The last line, which is like no other, closes the document.
    """
    before = {line - 1 for line in drawn if bound[line]}
    after = {line + 1 for line in drawn if bound[line + 1]}
    return drawn | before | after


def _crossed(score: Score) -> Iterator[int]:
    """Yield the indices of the measures before which something goes on or is announced.

    A tie, a slide, a slur; a key or a meter, whose courtesy sign ends the line before.
    """
    where: dict[str, int] = {}
    for index, measure in enumerate(score.measures):
        if index and (measure.shows_key or measure.shows_meter):
            yield index
        for voice in measure.voices:
            for event in voice.events[:1]:
                if any(head.tied_in for head in event.heads):
                    yield index
            where |= {head.id: index for event in voice.events for head in event.heads}
    for joint in score.joints():
        yield from range(where[joint.start] + 1, where[joint.end] + 1)


def _under_hairpins(score: Score, starts: Sequence[int]) -> Iterator[int]:
    """Yield the lines through whose ends a hairpin goes: its length is counted in measures."""
    number = {measure.number: index for index, measure in enumerate(score.measures)}
    for hairpin in score.hairpins():
        begins, ends = (
            bisect_right(starts, number[measure.number]) - 1
            for measure in (hairpin.first, hairpin.last)
        )
        if begins < ends:
            yield from range(begins, ends + 1)


def _look(own: Sequence[Measure], before: Measure | None, after: Measure | None) -> object:
    """Return what a line looks like, with the neighbours that it is bound to.

    A heading touches no line but its own.
    """
    first = own[0].number
    around = (
        _measure_look(replace(each, heading="") if each else None, first)
        for each in (before, after)
    )
    return (*around, *(_measure_look(measure, first) for measure in own))


def _measure_look(measure: Measure | None, first: int) -> object:
    """Return what a measure looks like; its number is counted from ``first``, the line's first.

    The number that is printed is put in later.
    """
    if measure is None:
        return None
    look = tuple(getattr(measure, name) for name in _LOOKS_OF_MEASURE)
    voices = tuple(_voice_look(voice, first) for voice in measure.voices)
    return measure.number - first, look, voices


def _voice_look(voice: Voice, first: int) -> object:
    events = tuple(
        (
            event.value,
            event.articulations,
            event.has_fermata,
            tuple(_head_look(head, first) for head in event.heads),
        )
        for event in voice.events
    )
    return voice.number, voice.staff, voice.stem, events


def _head_look(head: Head, first: int) -> object:
    """Return what a head looks like, and which note of which bar it is.

    The page draws no letters of the hands: of its place it has string and fret.
    """
    part, bar, number = head.id.split("-", 2)
    place = head.struck_place
    fret = place and (place.string, place.fret)
    look = tuple(getattr(head, name) for name in _LOOKS_OF_HEAD)
    return part, int(bar) - first, number, head.touch_words, fret, look


_LOOKS_OF_MEASURE = tuple(
    field.name
    for field in fields(Measure)
    if field.name not in {"number", "written_bar", "played", "voices"}
)
_LOOKS_OF_HEAD = tuple(field.name for field in fields(Head) if field.name not in {"id", "note"})
"""All that a measure and a head have but their numbers, and what their look is made of."""
