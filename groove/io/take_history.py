"""The takes that were judged before, in one small file that a player keeps."""

import json
from pathlib import Path

import msgspec
from msgspec import Struct

from groove.errors import OptionError
from groove.io.files import write_whole
from groove.take.judgement import TakeReport

_FORMAT = 1
LARGEST_HISTORY_BYTES = 4_000_000


class PastTake(Struct, frozen=True, kw_only=True):
    """What is kept of a take: of which bars of which song, how it strayed, by how many notes."""

    song: str
    bars: str
    take: str
    notes: int
    sd_ms: float
    drift_bpm_per_min: float | None = None
    mean_ms: float = 0.0
    tempo_bpm: float = 0.0


class _History(Struct, frozen=True, kw_only=True):
    format: int
    takes: tuple[PastTake, ...]


def past_take(report: TakeReport, take: str) -> PastTake | None:
    """Return what is kept of a take, None of one with too few notes for a spread."""
    figures = report.figures
    if figures.sd_ms is None:
        return None
    numbers = [bar.number for bar in report.reference.bars]
    return PastTake(
        song=report.reference.title,
        bars=f"{min(numbers)}-{max(numbers)}",
        take=take,
        notes=figures.notes,
        sd_ms=round(figures.sd_ms, 3),
        drift_bpm_per_min=figures.drift_bpm_per_min,
        mean_ms=round(figures.mean_ms, 3),
        tempo_bpm=round(figures.tempo_bpm, 3),
    )


def read_history(path: Path) -> tuple[PastTake, ...]:
    """Return the takes of a file, the oldest first; none where there is no file yet.

    Raises OptionError for a file that is no history of takes.
    """
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_HISTORY_BYTES)
        history = msgspec.json.decode(data, type=_History)
    except FileNotFoundError:
        return ()
    except (OSError, msgspec.DecodeError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is no history of takes"
        raise OptionError(
            f"cannot read {path}: {reason}", hint="give --history another file, or a new name"
        ) from None
    if history.format != _FORMAT:
        raise OptionError(f"{path}: format: found {history.format}, expected {_FORMAT}")
    return history.takes


def earlier_take(history: tuple[PastTake, ...], take: PastTake) -> PastTake | None:
    """Return the last take of the same bars of the same song."""
    same = [each for each in history if (each.song, each.bars) == (take.song, take.bars)]
    return same[-1] if same else None


def write_history(path: Path, takes: tuple[PastTake, ...]) -> None:
    """Write takes as a file.  Raises OutputError."""
    data = {"format": _FORMAT, "takes": [msgspec.to_builtins(take) for take in takes]}
    write_whole(path, json.dumps(data, ensure_ascii=False, indent=1).encode() + b"\n")
