"""The order in which a song's bars are played: form, repeats, jumps and the tag at its end."""

from collections.abc import Iterator, Sequence

from msgspec import Struct

from groove.chart.model import FormEntry, Jump, Song, WrittenBar
from groove.chart.repeats import play_order, played_length, repeat_groups
from groove.errors import ChartError
from groove.notices import Notice, NoticeKind, make_notice

Step = tuple[int, int]
"""The index of a written bar in its section, and the pass in which it is played."""


class Visit(Struct, frozen=True):
    """One time that the form comes to a section: its name and the bars that are played."""

    section: str
    steps: tuple[Step, ...]


class Tag(Struct, frozen=True):
    """The end of a song that is played again: how many bars, and how often in all."""

    bars: int
    times: int


class FormMark(Struct, frozen=True):
    """A bar with a word of the form: its section and bar, each by index."""

    section: int
    bar: int
    written: WrittenBar


def song_form(song: Song) -> tuple[FormEntry, ...]:
    """Return the order of sections: as the form says, else as written."""
    return song.form or tuple(FormEntry(section=section.name) for section in song.sections)


def unplayed_sections(song: Song) -> list[Notice]:
    """Return a notice for each section that the form leaves out."""
    played = {entry.section for entry in song_form(song)}
    return [
        make_notice(NoticeKind.UNPLAYED_SECTION, section=section.name, line=section.place.line)
        for section in song.sections
        if section.name not in played
    ]


def most_bars(song: Song) -> int:
    """Return how many bars a song has at most when played, without unrolling it."""
    lengths = {section.name: played_length(section.bars) for section in song.sections}
    form = song_form(song)
    total = sum(lengths[entry.section] * entry.times for entry in form)
    jumps = any(mark.written.directions.jump for mark in marks(song))
    tags = max((mark.written.directions.tag for mark in marks(song)), default=0)
    return total * (1 + jumps) + lengths[form[-1].section] * max(0, tags - 1)


def marks(song: Song) -> Iterator[FormMark]:
    """Yield the bars that have something to say to the band beside a stop or a hold."""
    for number, section in enumerate(song.sections):
        for index, bar in enumerate(section.bars):
            yield FormMark(number, index, bar)


def visits(song: Song) -> list[Visit]:
    """Return the sections in the order played, each with its bars."""
    return _tagged(song, _untagged(song))


def _untagged(song: Song) -> list[Visit]:
    """Return the sections in the order played, the tag at the end played once."""
    jump = find_jump(song)
    return _jumped(song, jump) if jump else list(_plain_visits(song))


def _plain_visits(song: Song) -> Iterator[Visit]:
    """Yield the sections of a song without jumps."""
    orders = {section.name: tuple(play_order(section.bars)) for section in song.sections}
    for entry in song_form(song):
        for _ in range(entry.times):
            yield Visit(entry.section, orders[entry.section])


def _tagged(song: Song, found: list[Visit]) -> list[Visit]:
    """Return visits with the bars from a tag on played as often as it says."""
    last, tag = found[-1], _last_tag(song, found[-1])
    if tag is None:
        return found
    again = last.steps[-tag.bars :] * (tag.times - 1)
    return [*found[:-1], Visit(last.section, last.steps + again)]


def _last_tag(song: Song, last: Visit) -> Tag | None:
    """Return the tag of the visit that ends a song, None where it has none."""
    bars = song.section(last.section).bars
    for count, (index, _) in enumerate(reversed(last.steps), start=1):
        if bars[index].directions.tag:
            return Tag(count, bars[index].directions.tag)
    return None


def song_tag(song: Song) -> Tag | None:
    """Return the tag that a song ends with, None where it has none."""
    return _last_tag(song, _untagged(song)[-1])


def find_jump(song: Song) -> FormMark | None:
    """Return the bar after which the reading goes back, None where there is none."""
    return next((m for m in marks(song) if m.written.directions.jump in BACK), None)


BACK = tuple(jump for jump in Jump if jump.goes_back)
TO_SIGN = (Jump.SEGNO, Jump.SEGNO_CODA, Jump.SEGNO_FINE)


def _jumped(song: Song, jump: FormMark) -> list[Visit]:
    """Return the sections of a song that goes back once: repeats are then not taken."""
    words = jump.written.directions.jump
    sections = song.sections
    there = [
        Visit(section.name, tuple(play_order(section.bars))) for section in sections[: jump.section]
    ]
    last = tuple(play_order(sections[jump.section].bars))
    end = max(place for place, step in enumerate(last) if step[0] == jump.bar)
    there.append(Visit(sections[jump.section].name, last[: end + 1]))
    begin = (0, 0)
    if words in TO_SIGN:
        sign = next(m for m in marks(song) if m.written.directions.has_segno)
        begin = (sign.section, sign.bar)
    return there + _grouped(song, _second_time(song, begin, words))


def _second_time(
    song: Song, begin: tuple[int, int], words: Jump | None
) -> Iterator[tuple[int, Step]]:
    """Yield (section, step) of the bars after the reading went back, until its end."""
    coda = next(((m.section, m.bar) for m in marks(song) if m.written.directions.has_coda), None)
    to_coda = words in (Jump.SEGNO_CODA, Jump.CAPO_CODA)
    to_fine = words in (Jump.SEGNO_FINE, Jump.CAPO_FINE)
    at: tuple[int, int] | None = begin
    while at is not None:
        jump_to = None
        for section, step in once(song, at):
            yield section, step
            word = song.sections[section].bars[step[0]].directions.jump
            if to_fine and word is Jump.FINE:
                return
            if to_coda and word is Jump.TO_CODA:
                jump_to, to_coda = coda, False
                break
        at = jump_to


def once(song: Song, begin: tuple[int, int]) -> Iterator[tuple[int, Step]]:
    """Yield the bars from one on, each repeat played once with its last ending."""
    for number in range(begin[0], len(song.sections)):
        bars = song.sections[number].bars
        passes = {
            index: group.passes
            for group in repeat_groups(bars)
            for index in range(group.start, group.stop)
        }
        for index in range(begin[1] if number == begin[0] else 0, len(bars)):
            last = passes.get(index, 1)
            if not bars[index].endings or last in bars[index].endings:
                yield number, (index, last if bars[index].endings else 1)


def _grouped(song: Song, steps: Iterator[tuple[int, Step]]) -> list[Visit]:
    """Return steps as visits: a new one wherever another section, or a jump, begins."""
    found: list[tuple[int, list[Step]]] = []
    for section, step in steps:
        if not found or found[-1][0] != section or step[0] <= found[-1][1][-1][0]:
            found.append((section, []))
        found[-1][1].append(step)
    return [Visit(song.sections[section].name, tuple(own)) for section, own in found]


def check_order(song: Song) -> None:
    """Refuse jumps beside a form, jumps to nothing, and words of the end elsewhere."""
    words = [mark for mark in marks(song) if mark.written.directions.jump]
    signs = [m for m in marks(song) if m.written.directions.has_segno]
    codas = [m for m in marks(song) if m.written.directions.has_coda]
    if song.form and (words or signs or codas):
        first = min((*words, *signs, *codas), key=lambda mark: (mark.section, mark.bar))
        raise at(
            first,
            "found a jump in a chart that has a form:",
            "expected one of the two: the order is said in form:, or by jumps",
        )
    _check_jump(words, signs, codas)
    last = song_form(song)[-1].section
    for mark in marks(song):
        ends = mark.written.directions
        if (ends.has_ritard or ends.tag or ends.has_hit) and song.sections[
            mark.section
        ].name != last:
            raise at(
                mark,
                "found a word of the song's end before its end",
                f"expected (ritard), (tag x3) and (hit) in {last}, the section that ends the song",
            )


def _check_jump(
    words: Sequence[FormMark], signs: Sequence[FormMark], codas: Sequence[FormMark]
) -> None:
    """Refuse more than one of a mark, and a jump whose goal is missing."""
    back = [mark for mark in words if mark.written.directions.jump in BACK]
    to_coda = [mark for mark in words if mark.written.directions.jump is Jump.TO_CODA]
    fine = [mark for mark in words if mark.written.directions.jump is Jump.FINE]
    for found in (back, to_coda, fine, signs, codas):
        if len(found) > 1:
            raise at(found[1], "found a second one of its kind", "expected one in a song")
    if not back:
        for mark in (*words, *signs, *codas):
            hint = "expected (D.S. al coda), (D.C. al fine) or their like at a bar after it"
            raise at(mark, "found a mark that no jump goes to", hint)
        return
    jump = back[0].written.directions.jump
    assert jump
    wanted: list[tuple[bool, Sequence[FormMark], str]] = [
        (jump in TO_SIGN, signs, "(segno)"),
        (jump.endswith("coda"), to_coda, "(to coda)"),
        (jump.endswith("coda"), codas, "(coda)"),
        (jump.endswith("fine"), fine, "(fine)"),
    ]
    for is_wanted, found, word in wanted:
        if is_wanted and not found:
            raise at(back[0], f"found ({jump}) and no {word}", f"expected {word} at a bar's head")


def at(mark: FormMark, message: str, hint: str) -> ChartError:
    """Return an error at a bar."""
    return ChartError(message, place=mark.written.place, hint=hint)
