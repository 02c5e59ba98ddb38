"""D.S. and D.C. with coda or Fine, where sections come again later on and a player asks for them.

A jump stands for a run of whole sections that is played again note for note, as it stood without
repeats and endings, so that nobody has to know whether these are taken after a jump (E. Gould,
*Behind Bars*, 2011, "Repeats"; from memory).  Where the band comes from another key, meter, tempo
or swing than the run begins after, it is written out: a reader goes on in what was in force last.
"""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace

from groove.sheet.folding import Fold
from groove.sheet.signs import JumpSign

LEAST_JUMPED = 8
"""A jump over fewer measures saves no line that is worth the way (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class _FoldRun:
    """Folds from ``start`` that stand again from ``again``, ``length`` of them."""

    start: int
    again: int
    length: int


def with_jump(
    folds: Sequence[Fold], contents: Sequence[Hashable], in_force: Sequence[Hashable]
) -> tuple[Fold, ...]:
    """Return folds with the one jump that saves most measures; as they are where none does.

    ``contents`` say of every played bar what a page has of it, ``in_force`` the key, the meter and
    what else a reader keeps from before.
    """
    runs = [run for run in _runs(folds, contents) if _joins(folds, run, in_force)]
    best = max(runs, key=lambda run: run.length, default=None)
    if best is None or best.length < LEAST_JUMPED:
        return tuple(folds)
    return tuple(_jumped(folds, best))


def _runs(folds: Sequence[Fold], contents: Sequence[Hashable]) -> Iterator[_FoldRun]:
    """Yield whole sections that come again, the longest from each pair of places."""
    starts = [index for index, fold in enumerate(folds) if fold.opens_section]
    for start in starts:
        for again in (each for each in starts if each > start):
            length = ends = 0
            while again + length < len(folds) and start + length < again:
                one, other = folds[start + length], folds[again + length]
                is_alike = contents[one.played[0]] == contents[other.played[0]]
                if not is_alike or one.has_signs or other.has_signs:
                    break
                length += 1
                if one.ends_section and other.ends_section:
                    ends = length
            yield _FoldRun(start, again, ends)


def _joins(folds: Sequence[Fold], run: _FoldRun, in_force: Sequence[Hashable]) -> bool:
    """Return whether a reader arrives at both ends of a jump in what the bars there stand in."""
    if run.length == 0 or run.start + run.length == run.again:
        # One after another they are repeated by signs, or are in the end written out.
        return False
    before, first = folds[run.again - 1].played[-1], folds[run.start].played[0]
    last = folds[run.start + run.length - 1].played[0]
    coda = folds[run.again + run.length :]
    forces = [in_force[index] for index in (before, first)]
    if coda:
        forces += [in_force[last]]
    return len(set(forces)) == 1


def _jumped(folds: Sequence[Fold], run: _FoldRun) -> Iterator[Fold]:
    """Yield folds with a jump in the place of a run's second time."""
    coda = folds[run.again + run.length :]
    is_capo = run.start == 0
    end = run.start + run.length - 1
    signs: dict[int, tuple[JumpSign, ...]] = {} if is_capo else {run.start: (JumpSign.SEGNO,)}
    for index, sign in (
        (end, JumpSign.TO_CODA if coda else JumpSign.FINE),
        (run.again - 1, _back(is_capo=is_capo, has_coda=bool(coda))),
        (run.again + run.length, JumpSign.CODA),
    ):
        signs[index] = (*signs.get(index, ()), sign)
    for index, fold in enumerate(folds):
        if run.again <= index < run.again + run.length:
            continue
        played = fold.played
        if run.start <= index <= end:
            played += folds[index - run.start + run.again].played
        is_last = index == run.again - 1 and not coda
        own = signs.get(index, ())
        yield replace(fold, played=played, jumps=own, ends_song=fold.ends_song or is_last)


def _back(*, is_capo: bool, has_coda: bool) -> JumpSign:
    """Return the sign that sends back."""
    if has_coda:
        return JumpSign.DC_AL_CODA if is_capo else JumpSign.DS_AL_CODA
    return JumpSign.DC_AL_FINE if is_capo else JumpSign.DS_AL_FINE
