"""What a call asks for, checked as it is read: each error names its option and its value."""

import re
from collections.abc import Sequence
from math import isnan
from typing import Any, cast

import typer
from typer.core import TyperCommand

from groove.cli.console import say
from groove.cli.values import refused
from groove.errors import OptionError

REQUEST_ERROR = cast(type[Exception], typer.BadParameter.__mro__[1])
"""What typer raises for a call that it cannot read; it exports only this one kind of it."""

UNREADABLE = re.compile(
    r"Invalid value for .*?: '(?P<word>.*)' is not a valid (?:integer|int|float)(?: range)?\."
    r"|Invalid value for .*?: (?P<number>\S+) is not in the range .*",
    re.DOTALL,
)
"""typer's words for a number that does not do."""


OLD_OPTIONS = {
    "--scale": "--scale-length",
    "--frame": "--span",
    "--unrolled": "--written-out",
}
"""Options as they were called before, which scripts of players may still have."""
_OLD_OF_ONE = {"sheet": {"--only": "--staves"}}
"""The same where only one command has called an option so."""


class Request(TyperCommand):
    """A command that refuses values which are empty, or no number, before any work is done."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the arguments of a call.  Raises OptionError for an empty one."""
        args = _with_new_names(args, str(self.name))
        _refuse_empty(args, self.params)
        rest: list[str] = super().parse_args(ctx, args)
        for parameter in self.params:
            value = ctx.params.get(parameter.name)
            # Not a number is within every range.
            if isinstance(value, float) and isnan(value):
                raise refused(_long_name(parameter), value, _expected_number(parameter.type))
        return rest


def _with_new_names(args: Sequence[str], command: str) -> list[str]:
    """Return the arguments with old options as they are called now, each told once."""
    old = OLD_OPTIONS | _OLD_OF_ONE.get(command, {})
    found = [(word.partition("=")[0], word) for word in args]
    for name in dict.fromkeys(name for name, _ in found if name in old):
        say(f"{name} is now called {old[name]}")
    return [old[name] + word.removeprefix(name) if name in old else word for name, word in found]


def _long_name(parameter: Any) -> str:
    """Return an option's name, ``--output`` of two, or the name of an operand."""
    return max(parameter.opts, key=len) if parameter.param_type_name == "option" else "CHART"


def _refuse_empty(args: Sequence[str], parameters: Sequence[Any]) -> None:
    """Refuse a value with nothing in it, which a shell's unset variable leaves behind."""
    options = [p for p in parameters if p.param_type_name == "option" and not p.is_flag]
    names = {name: _long_name(option) for option in options for name in option.opts}
    for before, word in zip(["", *args], args, strict=False):
        name, equals, value = word.partition("=")
        if word.strip() == "":
            raise refused(names.get(before, "an argument"), word, "something in it")
        if equals and name in names and not value.strip():
            raise refused(names[name], value, "something in it")


def _expected_number(kind: Any) -> str:
    """Return what an option of numbers takes: ``a whole number from 0 to 19``."""
    what = "a number" if "float" in kind.name else "a whole number"
    low, high = getattr(kind, "min", None), getattr(kind, "max", None)
    if low is None or high is None:
        return what
    return f"{low} or {high}" if high - low == 1 else f"{what} from {low} to {high}"


def number(text: str) -> int | float:
    """Return the number that a text spells."""
    return int(text) if text.lstrip("-").isdigit() else float(text)


def request_error(error: Any, command: str) -> OptionError:
    """Return an error about a call's words as ours: what was found, what was expected."""
    told = error.format_message()
    found = UNREADABLE.fullmatch(told)
    if found:
        kind = error.param.type
        value = found["word"] if found["number"] is None else number(found["number"])
        return refused(_long_name(error.param), value, _expected_number(kind))
    hint = f"groove {command} --help lists what there is".replace("  ", " ")
    return OptionError(told[:1].lower() + told[1:].rstrip("."), hint=hint)
