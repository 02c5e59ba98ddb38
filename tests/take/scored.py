"""How well onsets were found in takes whose truth is known, scored by mir_eval."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy

from groove.take.onsets import Onset
from tests.mir_judge import onset as judge
from tests.take.made_takes import MadeTake

WINDOW_SEC = 0.025


@dataclass(kw_only=True)
class Score:
    """Counts over some takes; ``errors_ms`` are of the pairs that mir_eval makes."""

    true: int = 0
    found: int = 0
    matched: int = 0
    wide: int = 0
    ghosts: int = 0
    ghosts_found: int = 0
    slurs: int = 0
    slurs_found: int = 0
    pitched: int = 0
    pitch_right: int = 0
    kinds_right: int = 0
    errors_ms: list[float] = field(default_factory=list)

    @property
    def f_measure(self) -> float:
        return 2 * self.matched / (self.true + self.found)

    @property
    def wide_f_measure(self) -> float:
        return 2 * self.wide / (self.true + self.found)

    @property
    def bias_ms(self) -> float:
        return float(numpy.median(self.errors_ms))

    @property
    def p95_ms(self) -> float:
        return float(numpy.percentile(numpy.abs(self.errors_ms), 95))

    def add(self, take: MadeTake, onsets: Sequence[Onset]) -> None:
        """Count one take."""
        truth = numpy.array([note.onset_sec for note in take.played])
        found = numpy.array([onset.sec for onset in onsets])
        self.true += len(truth)
        self.found += len(found)
        self.wide += len(judge.util.match_events(truth, found, 2 * WINDOW_SEC))
        self.ghosts += sum(note.is_ghost for note in take.played)
        self.slurs += sum(note.is_slurred for note in take.played)
        for played, heard in judge.util.match_events(truth, found, WINDOW_SEC):
            note, onset = take.played[played], onsets[heard]
            self.matched += 1
            self.errors_ms.append(1000 * (onset.sec - note.onset_sec))
            self.ghosts_found += note.is_ghost
            self.slurs_found += note.is_slurred
            self.kinds_right += note.is_ghost == onset.is_ghost_like
            if onset.pitch is not None and onset.pitch_confidence > 0.8 and not note.is_ghost:
                self.pitched += 1
                self.pitch_right += abs(onset.pitch - note.pitch) < 0.5
