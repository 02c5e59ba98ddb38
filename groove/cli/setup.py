"""``groove setup``: what is installed, which soundfont will be used, what is missing."""

import os
import platform

import typer

from groove.cli.console import put, put_json
from groove.cli.options import JsonOption
from groove.errors import GrooveError


def version_text() -> str:
    """Return which version is installed, or that a checkout runs that is not."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("groove")
    except PackageNotFoundError:
        return "run from a checkout; to install it: pip install --editable ."


def _better_sound() -> str:
    """Return which free font sounds better, and the two lines that bring and choose it."""
    from groove.io.soundfont import FONTS_GUIDE, SOUNDFONT_VARIABLE, fuller_font

    font = fuller_font()
    if font is None:
        return f"free fonts are named in {FONTS_GUIDE}"
    return f"{font.name}:\n{font.install}\nexport {SOUNDFONT_VARIABLE}={font.path}"


def setup(json: JsonOption = False) -> None:
    """Say what is installed, and how to get what is missing."""
    from groove.io.config import config_path, read_config
    from groove.io.library import load_library, patterns_root
    from groove.io.soundfont import choose_soundfont, read_presets
    from groove.io.synth import synthesizers

    facts: dict[str, object] = {
        "format": 1,
        "groove": version_text(),
        "python": platform.python_version(),
        "config": f"{config_path()}" + ("" if config_path().exists() else " (none yet)"),
        "feels": f"{len(load_library().feels)} in {patterns_root()}",
    }
    missing = []
    for status in synthesizers():
        facts[status.name] = status.version or f"missing; to get it: {status.cure}"
    if all(status.version is None for status in synthesizers()):
        missing.append("synthesizer")
    try:
        choice = choose_soundfont(None, os.environ, read_config().soundfont)
        count = len(read_presets(choice.path))
        facts["soundfont"] = f"{choice.path} ({choice.reason}; {count} sounds)"
        if choice.is_default:
            facts["better sound"] = _better_sound()
    except GrooveError as error:
        facts["soundfont"] = error.report()
        missing.append("soundfont")
    if json:
        put_json(facts | {"missing": missing})
    else:
        for name, fact in facts.items():
            if name != "format":
                first, *more = str(fact).splitlines()
                put(f"{name:<14} {first}")
                for line in more:
                    put(f"  {line}")
    raise typer.Exit(1 if missing else 0)
