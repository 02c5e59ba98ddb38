"""What a file was rendered with: written into our MIDI in words, and read from there again."""

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import TypeVar

from msgspec import Struct

from groove.chart.form import MOST_TIMES_OVER
from groove.chart.settings import LARGEST_SEED, TRANSPOSE_SEMITONES
from groove.cli.options import Arranged, Loop, Moved, Played
from groove.errors import OptionError

CALL = ("groove", "render")
"""What the text event begins with that tells of it; the options of the call follow."""
OPTION_RANGES: Mapping[str, range] = {
    "--transpose": TRANSPOSE_SEMITONES,
    "--seed": range(LARGEST_SEED + 1),
    "--times": range(1, MOST_TIMES_OVER + 1),
}
_SWITCH = "--tight"
_Given = TypeVar("_Given")


class Rendered(Struct, frozen=True, kw_only=True):
    """What decides the notes of a bass part beside its chart, as a player gives it."""

    played: Played
    loop: Loop
    tight: bool = False
    tuning: str | None = None
    line: str | None = None
    patterns: Path | None = None

    def options(self) -> Mapping[str, object]:
        """Return the options by their names; those that say nothing are None."""
        arranged, moved = self.played.arranged, self.played.arranged.moved
        return {
            "--tempo": self.played.tempo,
            "--feel": arranged.feel,
            "--vary": arranged.vary,
            "--transpose": moved.transpose or None,
            "--key": moved.key,
            "--seed": arranged.seed,
            "--sections": self.loop.sections,
            "--bars": self.loop.bars,
            "--times": self.loop.times if self.loop.times > 1 else None,
            "--tuning": self.tuning,
            "--line": self.line,
            "--patterns": self.patterns,
        }

    def words(self) -> str:
        """Return the call that renders so, its chart and files left out."""
        given = [
            word
            for name, value in self.options().items()
            if value is not None
            for word in (name, str(value))
        ]
        return shlex.join([*CALL, *given, *([_SWITCH] if self.tight else [])])

    def under(self, asked: "Rendered") -> "Rendered":
        """Return this with what is asked for above it."""
        own, new = self.options(), asked.options()
        found = {name: own[name] if new[name] is None else new[name] for name in own}
        return _rendered(found, tight=self.tight or asked.tight)


def read_rendered(name: str) -> Rendered:
    """Return what a MIDI file of ours was rendered with.

    Raises MidiError for what is no MIDI file, OptionError for one that does not tell.
    """
    from groove.io.charts import read_limited
    from groove.io.midi_contents import LARGEST_MIDI_BYTES, TextEvent, read_midi

    data = read_limited(name, LARGEST_MIDI_BYTES, "expected a MIDI file's name")
    contents = read_midi(data, name)
    for event in contents.tracks[0] if contents.tracks else ():
        if isinstance(event, TextEvent) and event.text.startswith(" ".join(CALL)):
            return _read_words(name, event.text)
    raise OptionError(
        f"{name} does not tell how it was rendered",
        hint="expected a .mid that groove render or gig wrote; else give --seed, --feel and such",
    )


def _read_words(name: str, text: str) -> Rendered:
    """Return what the words of a file ask for."""
    try:
        words = shlex.split(text)[len(CALL) :]
    except ValueError:
        raise _unclear(name, text) from None
    tight = _SWITCH in words
    rest = [word for word in words if word != _SWITCH]
    names = Rendered(played=Played(arranged=Arranged(moved=Moved())), loop=Loop()).options()
    found: dict[str, object] = dict.fromkeys(names)
    if len(rest) % 2:
        raise _unclear(name, rest[-1])
    for option, value in zip(rest[::2], rest[1::2], strict=True):
        if option not in found:
            raise _unclear(name, option)
        found[option] = _number(name, option, value) if option in OPTION_RANGES else value
    return _rendered(found, tight=tight)


def _number(name: str, option: str, value: str) -> int:
    try:
        number = int(value)
    except ValueError:
        raise _unclear(name, f"{option} {value}") from None
    if number not in OPTION_RANGES[option]:
        raise _unclear(name, f"{option} {value}")
    return number


def _unclear(name: str, found: str) -> OptionError:
    return OptionError(
        f"{name} does not tell clearly how it was rendered: found {found[:60]}",
        hint="expected options of groove render; give --seed, --feel and their like yourself",
    )


def _rendered(options: Mapping[str, object], *, tight: bool) -> Rendered:
    def of(name: str, kind: type[_Given]) -> _Given | None:
        value = options[name]
        return value if isinstance(value, kind) else None

    patterns = options["--patterns"]
    return Rendered(
        played=Played(
            tempo=of("--tempo", str),
            arranged=Arranged(
                feel=of("--feel", str),
                vary=of("--vary", str),
                moved=Moved(transpose=of("--transpose", int) or 0, key=of("--key", str)),
                seed=of("--seed", int),
            ),
        ),
        loop=Loop(
            sections=of("--sections", str),
            bars=of("--bars", str),
            times=of("--times", int) or 1,
        ),
        tight=tight,
        tuning=of("--tuning", str),
        line=of("--line", str),
        patterns=None if patterns is None else Path(str(patterns)),
    )
