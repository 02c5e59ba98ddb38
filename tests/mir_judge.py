"""The modules of mir_eval that judge (C. Raffel et al., ISMIR 2014) without the rest of it.

``import mir_eval`` loads all its measures and with them ``scipy.stats``: as long as half of all
other modules of the tests together, in every process that collects them.
"""

import sys
from importlib.util import find_spec
from types import ModuleType


def _without_the_rest() -> None:
    """Let the package be known by its folder alone, where nobody has loaded it."""
    spec = find_spec("mir_eval")
    assert spec and spec.submodule_search_locations
    package = ModuleType("mir_eval")
    package.__path__ = list(spec.submodule_search_locations)
    sys.modules["mir_eval"] = package


if "mir_eval" not in sys.modules:
    _without_the_rest()

from mir_eval import chord, onset, transcription  # noqa: E402

__all__ = ["chord", "onset", "transcription"]
