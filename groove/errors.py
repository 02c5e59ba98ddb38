"""Every error that groove raises on purpose, each with a place and a cure.

```
GrooveError            exit 1   one ``except`` catches everything of ours
├─ ChartError          exit 2   a chart: line, column, the text under a caret, what was expected
├─ CellError           exit 2   a cell or feel file: file, path inside it, found and expected
├─ OptionError         exit 2   an impossible request: a tempo out of range, an unknown section
├─ NeckError           exit 2   a part that no hand can play: which bar, and what would do
├─ MidiError           exit 2   a MIDI file that cannot be read: which track, which byte
├─ SoundError          exit 2   no synthesiser, or a soundfont that cannot serve
├─ RecordingError      exit 2   a recorded take that cannot be read or has nothing to hear
└─ OutputError         exit 1   a file that cannot be written
```

Bad data raises one of these.  A broken invariant of our own raises ``AssertionError`` or
``ValueError`` and is a bug.
"""

from collections.abc import Iterable

from msgspec import Struct


class SourcePlace(Struct, frozen=True, kw_only=True, gc=False):
    """Where in a text something stands.

    ``line`` and ``column`` count from 1; ``text`` is the whole line; ``length`` is the number of
    characters that the caret underlines (at least 1).
    """

    source: str
    line: int
    column: int
    text: str
    length: int = 1

    def shown(self) -> str:
        """Return the line with a caret under the place, cut to about 100 columns round it."""
        start = max(0, self.column - 60)
        window = "".join(
            mark if mark.isprintable() else " " for mark in self.text[start : start + 100]
        )
        offset = self.column - 1 - start
        caret = " " * offset + "^" * max(1, min(self.length, 100 - offset))
        return f"    {window}\n    {caret}"


class GrooveError(Exception):
    """The root of all errors of groove.

    ``message`` says what is wrong, ``hint`` what would do (may be empty), ``exit_code`` is what
    the command line returns.
    """

    exit_code = 1

    def __init__(self, message: str, *, hint: str = "") -> None:
        """Keep the message and the hint apart, so that each output can set them its own way."""
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __reduce__(self) -> tuple[object, ...]:
        """Let an error cross from one process to another, whatever its class asks for."""
        return rebuilt, (type(self), self.__dict__.copy(), self.args)

    def report(self) -> str:
        """Return the whole error as text for a person: message, place if any, hint."""
        return self.message + (f"\n  {self.hint}" if self.hint else "")


def rebuilt(
    kind: type[GrooveError], state: dict[str, object], args: tuple[object, ...]
) -> GrooveError:
    """Return an error from its class, its fields and its arguments (see ``__reduce__``)."""
    error = kind.__new__(kind, *args)
    error.args = args
    error.__dict__.update(state)
    return error


class ChartError(GrooveError):
    """A chart that cannot be read, with the place in its text."""

    exit_code = 2

    def __init__(self, message: str, *, place: SourcePlace, hint: str = "") -> None:
        """``place`` is shown under a caret; ``hint`` names what was expected or would do."""
        super().__init__(message, hint=hint)
        self.place = place

    def report(self) -> str:
        """Return ``source:line:column: message``, the line with its caret, and the hint."""
        place = self.place
        head = f"{place.source}:{place.line}:{place.column}: {self.message}"
        return "\n".join([head, place.shown(), *([f"  {self.hint}"] if self.hint else [])])


class SymbolError(ChartError):
    """A word in a bar that is no chord: ``word`` as it stands there, pushes included."""

    def __init__(self, message: str, *, place: SourcePlace, hint: str, word: str) -> None:
        """``word`` is longer than what is shown where it is very long."""
        super().__init__(message, place=place, hint=hint)
        self.word = word


class CellError(GrooveError):
    """A cell or feel that cannot be used: the file, the path inside it, found and expected."""

    exit_code = 2

    def __init__(self, message: str, *, source: str, path: str, hint: str = "") -> None:
        """``source`` is the file's name, ``path`` the key inside it, as ``steps[2]``."""
        super().__init__(message, hint=hint)
        self.source = source
        self.path = path

    def report(self) -> str:
        """Return ``file: path: message`` and the hint."""
        where = ": ".join(part for part in (self.source, self.path) if part)
        return f"{where}: {self.message}" + (f"\n  {self.hint}" if self.hint else "")


class OptionError(GrooveError):
    """A request that cannot be met: an unknown name, a value out of range."""

    exit_code = 2


class NeckError(GrooveError):
    """A part that cannot be played on the instrument, with the bar and what would do."""

    exit_code = 2


class MidiError(GrooveError):
    """A MIDI file that cannot be read: which track, which byte, found and expected."""

    exit_code = 2


class SoundError(GrooveError):
    """No synthesiser, or a soundfont that is missing, broken or lacks an instrument."""

    exit_code = 2


class RecordingError(GrooveError):
    """A recorded take that cannot be read, or in which nothing can be heard."""

    exit_code = 2


class OutputError(GrooveError):
    """A file that cannot be written."""


def joined_hints(*hints: str) -> str:
    """Return hints in a row, those left out that are empty."""
    return "; ".join(filter(None, hints))


def nearest_hint(
    found: str, known: Iterable[str], *, label: str = "nearest", least: float = 0.5
) -> str:
    """Return ``nearest: NAME`` for the known name most like ``found``, or an empty string.

    ``least`` is how like it must be, from 0 to 1 (the same).
    """
    from difflib import get_close_matches

    names = {name.casefold(): name for name in known}
    matches = get_close_matches(found.casefold(), list(names), n=1, cutoff=least)
    return f"{label}: {names[matches[0]]}" if matches else ""
