"""What the shell offers for an option: feels, parts, sizes, the sections of the chart at hand.

Nothing is said while a line is typed: what cannot be read, as a chart with a slip, offers nothing.
"""

import inspect
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import typer

from groove.errors import GrooveError

Offer = Callable[[Mapping[str, Any]], Iterable[str]]
"""What there is to choose from, by what the line says so far."""


def offer_values(command: Callable[..., None]) -> None:
    """Have a command's options offer their values where the shell asks it to complete."""
    for parameter in inspect.signature(command).parameters.values():
        for info in getattr(parameter.annotation, "__metadata__", ()):
            # In an annotation typer keeps the first name that an option is given as its default.
            names = (info.default, *(info.param_decls or ()), f"--{parameter.name}")
            for name in names:
                if name in OFFERS:
                    info.autocompletion = _offering(name)


def _offering(option: str) -> Callable[[typer.Context, str], list[str]]:
    """Return what typer asks for the values that go on from what is typed; of a list, its last."""

    def offered(context: typer.Context, incomplete: str) -> list[str]:
        before, comma, typed = (
            incomplete.rpartition(",") if option in LISTS else ("", "", incomplete)
        )
        taken = before.casefold().split(",")
        try:
            # Where the option at the line's end lacks its value, the charts are not yet a value.
            charts = context.params.get("charts") or context.args
            values = list(OFFERS[option]({**context.params, "charts": charts}))
        except (GrooveError, OSError):
            return []
        return [
            before + comma + typed + value[len(typed) :]  # a shell keeps what is typed
            for value in values
            if value.casefold().startswith(typed.casefold()) and value.casefold() not in taken
        ]

    return offered


def _feels(said: Mapping[str, Any]) -> Iterator[str]:
    """Yield the feels, then the styles that players call them by."""
    from groove.io.library import load_library

    folder = said.get("patterns")
    feels = load_library(Path(folder) if folder else None).feels
    yield from feels
    yield from sorted({style for feel in feels.values() for style in feel.also} - set(feels))


def _sections(said: Mapping[str, Any]) -> Iterator[str]:
    """Yield the sections of the charts that stand on the line."""
    from groove.io.charts import read_song

    for name in said.get("charts") or ():
        if name != "-":  # what comes in there is the shell's
            yield from (section.name for section in read_song(name).sections)


def _tunings(_: Mapping[str, Any]) -> Iterable[str]:
    from groove.neck.instrument import TUNINGS

    return TUNINGS


def _parts(_: Mapping[str, Any]) -> Iterable[str]:
    from groove.cli.values import BAND

    return BAND


def _sizes(_: Mapping[str, Any]) -> Iterable[str]:
    from groove.sheet.options import Size

    return Size


def _staves(_: Mapping[str, Any]) -> Iterable[str]:
    from groove.sheet.options import Staves

    return Staves


def _vary(_: Mapping[str, Any]) -> Iterable[str]:
    from groove.chart.model import Vary

    return Vary


def _bits(_: Mapping[str, Any]) -> Iterable[str]:
    from groove.io.audio import SAMPLE_FORMATS

    return SAMPLE_FORMATS


def _rates(_: Mapping[str, Any]) -> Iterable[str]:
    from groove.cli.sounding import SAMPLE_RATES_HZ

    return map(str, SAMPLE_RATES_HZ)


def _clicks(_: Mapping[str, Any]) -> Iterable[str]:
    from groove.cut import ClickUnit

    return ClickUnit


OFFERS: Mapping[str, Offer] = {
    "--feel": _feels,
    "--vary": _vary,
    "--sections": _sections,
    "--tuning": _tunings,
    "--part": _parts,
    "--without": _parts,
    "--only": _parts,
    "--size": _sizes,
    "--staves": _staves,
    "--bits": _bits,
    "--rate": _rates,
    "--click": _clicks,
    "--bass": lambda _: ("first", "always"),
    "--for": lambda _: ("Bb", "Eb"),
    "--open": lambda _: ("yes", "no", "free"),
}
"""Option -> what is offered for it."""

LISTS = frozenset({"--sections", "--without", "--only"})
"""Options that take names with commas between them."""
