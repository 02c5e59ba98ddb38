"""What a call asks for, checked as it is read: each error names its option and its value."""

import re
from collections.abc import Callable, Sequence
from itertools import takewhile
from math import isnan
from pathlib import Path
from typing import Any, cast

import typer
from typer.core import TyperCommand

from groove.cli.console import say
from groove.cli.values import LONGEST_SHOWN, refused
from groove.errors import OptionError, nearest_hint

REQUEST_ERROR = cast(type[Exception], typer.BadParameter.__mro__[1])
"""What typer raises for a call that it cannot read; it exports only this one kind of it."""

UNREADABLE = re.compile(
    r"Invalid value for .*?: '(?P<word>.*)' is not a valid (?:integer|int|float)(?: range)?\."
    r"|Invalid value for .*?: (?P<number>\S+) is not in the range .*",
    re.DOTALL,
)
"""typer's words for a number that does not do."""

NEARLY_THE_SAME = 0.8
"""How like another option's name must be to be offered, from 0 to 1."""

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
        # What is parsed is taken from the list that is given.
        rest: list[str] = super().parse_args(ctx, list(args))
        _refuse_twice(self.make_parser(ctx).parse_args(list(args))[2])
        if "charts" in ctx.params:
            _refuse_loose_words(args, self.params)
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


def _refuse_twice(given: Sequence[Any]) -> None:
    """Refuse an option that is given twice and takes one value: the first would go unheard."""
    for index, option in enumerate(given):
        takes_one = option.param_type_name == "option" and not (option.is_flag or option.multiple)
        if takes_one and option in given[:index]:
            name = _long_name(option)
            raise OptionError(f"{name} is given twice", hint=f"expected one {name}")


def _refuse_loose_words(args: Sequence[str], parameters: Sequence[Any]) -> None:
    """Refuse words after an option that it does not take and that are no files.

    They would be taken for charts, of which the first may be told of before they are missed.
    """
    options = {
        name: parameter
        for parameter in parameters
        if parameter.param_type_name == "option"
        for name in (*parameter.opts, *parameter.secondary_opts)
    }
    for index, word in enumerate(args):
        name, equals, value = word.partition("=")
        if name not in options:
            continue
        is_flag = options[name].is_flag
        begin = index + 1 if is_flag or equals else index + 2
        loose = list(takewhile(_is_loose, args[begin:]))
        if not loose:
            continue
        message = f"there is no chart called {loose[0]!r}"
        if is_flag:
            raise OptionError(message, hint=f"{name} takes no value")
        whole = " ".join([value if equals else args[index + 1], *loose])
        raise OptionError(
            message,
            hint=f'a value of several words stands in quotes: {name} "{whole}"',
        )


def _is_loose(word: str) -> bool:
    """Return whether a word cannot be meant as a chart: it looks like no file and is none."""
    return re.fullmatch(r"[^-./\\:][^./\\:]*", word) is not None and not Path(word).exists()


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


def request_error(error: Any, command: str, takers: Callable[[str], Sequence[str]]) -> OptionError:
    """Return an error about a call's words as ours: what was found, what was expected.

    ``takers`` says which commands take an option.
    """
    if unknown := getattr(error, "option_name", None) if hasattr(error, "possibilities") else None:
        return OptionError(
            f"no such option: {unknown[:LONGEST_SHOWN]}",
            hint=_option_hint(unknown, error.ctx, command, takers),
        )
    message = error.format_message()
    found = UNREADABLE.fullmatch(message)
    if found:
        kind = error.param.type
        value = found["word"] if found["number"] is None else number(found["number"])
        return refused(_long_name(error.param), value, _expected_number(kind))
    return OptionError(message[:1].lower() + message[1:].rstrip("."), hint=_help_hint(command))


def _help_hint(command: str) -> str:
    return f"groove {command} --help lists what there is".replace("  ", " ")


def _option_hint(
    unknown: str, context: Any, command: str, takers: Callable[[str], Sequence[str]]
) -> str:
    """Return what to do about an option that a command has not.

    That is who has it, else one that is all but the same, else where all are listed.
    """
    if commands := takers(unknown):
        return f"{unknown} is for {', '.join(commands)}"
    own = [name for parameter in context.command.get_params(context) for name in parameter.opts]
    return nearest_hint(unknown, own, least=NEARLY_THE_SAME) or _help_hint(command)
