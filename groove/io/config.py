"""The player's own settings: one small TOML file in the platform's folder for configuration.

format = 1
soundfont = "~/sounds/band.sf2"
tuning = "five"
"""

import tomllib
from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct

from groove.errors import OptionError, nearest_hint
from groove.neck.instrument import FRET_COUNTS, parse_scale_length, parse_tuning

_FORMAT = 1
TEXT_KEYS = ("soundfont", "tuning", "scale_length")
KEYS = ("format", *TEXT_KEYS, "frets")
OLD_KEYS = {"scale": "scale_length"}
"""Settings as they were called before, which are still read."""
LARGEST_BYTES = 65_536


class Config(Struct, frozen=True, kw_only=True):
    """What the player has set, None where not.

    ``soundfont`` is a path, ``tuning`` a name or open strings, ``scale_length`` that of an
    open string (``34 in``, ``864 mm``), ``frets`` their number.
    """

    soundfont: str | None = None
    tuning: str | None = None
    scale_length: str | None = None
    frets: int | None = None


def config_path() -> Path:
    """Return where the file is looked for."""
    from platformdirs import user_config_path

    return user_config_path("groove") / "config.toml"


def read_config(path: Path | None = None) -> Config:
    """Return the player's settings, empty where there is no file.

    Raises OptionError for a file that cannot be read, with its path.
    """
    path = path or config_path()
    try:
        with path.open("rb") as file:
            text = file.read(LARGEST_BYTES).decode("utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return Config()
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else error
        raise OptionError(f"{path}: cannot be read: {why}", hint="mend it or remove it") from None
    try:
        values = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise OptionError(f"{path}: {error}", hint='expected TOML, e.g. soundfont = "…"') from None
    return _checked(values, path)


def _checked(values: Mapping[str, object], path: Path) -> Config:
    """Return the settings of a mapping.  Raises OptionError with the key."""
    values = {OLD_KEYS.get(key, key): value for key, value in values.items()}
    for key, value in values.items():
        if key not in KEYS:
            hint = nearest_hint(key, KEYS) or "expected one of: " + ", ".join(KEYS)
            raise OptionError(f"{path}: {key}: no such setting", hint=hint)
        if key in TEXT_KEYS and not isinstance(value, str):
            raise OptionError(f"{path}: {key}: expected a text in quotes")
        if key in TEXT_KEYS and not str(value).strip():
            raise OptionError(f"{path}: {key}: expected something between the quotes")
        if key == "frets" and (isinstance(value, bool) or value not in FRET_COUNTS):
            expected = f"expected {FRET_COUNTS.start} to {FRET_COUNTS.stop - 1}"
            raise OptionError(f"{path}: {key} cannot be {value!r}", hint=expected)
    if values.get("format") != _FORMAT:
        found = values.get("format", "nothing")
        raise OptionError(f"{path}: format: found {found}, expected {_FORMAT}")
    _check_instrument(values, path)
    return Config(**{key: values[key] for key in KEYS[1:] if key in values})  # type: ignore[arg-type]


def _check_instrument(values: Mapping[str, object], path: Path) -> None:
    """Refuse a tuning or a length of string that there is not, naming the file."""
    for key, parse in (("tuning", parse_tuning), ("scale_length", parse_scale_length)):
        try:
            if key in values:
                parse(str(values[key]))
        except OptionError as error:
            raise OptionError(f"{path}: {key}: {error.message}", hint=error.hint) from None
