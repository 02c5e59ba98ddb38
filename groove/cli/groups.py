"""Options that belong together as one value: a command takes the group, a call its options."""

import inspect
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import msgspec
from msgspec import NODEFAULT, Struct


def grouped(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command with the fields of its groups as options of its own.

    A group is a parameter whose type is a Struct; its fields are options, or groups once more.
    What a call says is gathered into the groups again before the command runs.
    """
    parameters = inspect.signature(command).parameters.values()
    options = [option for parameter in parameters for option in _options(parameter)]

    def run(**said: object) -> None:
        command(**{parameter.name: _gathered(parameter, said) for parameter in parameters})

    run.__doc__ = command.__doc__
    run.__annotations__ = {option.name: option.annotation for option in options}
    run.__signature__ = inspect.Signature(options)  # type: ignore[attr-defined]
    return run


def _options(parameter: inspect.Parameter) -> Iterator[inspect.Parameter]:
    """Yield the options that a parameter of a command stands for: itself, or a group's fields."""
    if not _is_group(parameter.annotation):
        yield parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY)
        return
    for field in _fields(parameter.annotation):
        yield from _options(field)


def _gathered(parameter: inspect.Parameter, said: Mapping[str, object]) -> object:
    """Return the value of a parameter: what was said for it, or a group of what was."""
    if not _is_group(parameter.annotation):
        return said[parameter.name]
    fields = _fields(parameter.annotation)
    return parameter.annotation(**{field.name: _gathered(field, said) for field in fields})


def _is_group(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Struct)


def _fields(group: Any) -> Iterator[inspect.Parameter]:
    for field in msgspec.structs.fields(group):
        default = inspect.Parameter.empty if field.default is NODEFAULT else field.default
        yield inspect.Parameter(
            field.name, inspect.Parameter.KEYWORD_ONLY, annotation=field.type, default=default
        )
