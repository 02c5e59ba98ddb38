"""Which soundfont is used, and what is in it, found out before anything is rendered.

A synthesizer given a broken font goes on in silence, and given a missing instrument plays another
one.  So the preset list is read here first: RIFF form ``sfbk``, list ``pdta``, chunk ``phdr`` of
38-byte records, the last a terminator (*SoundFont Technical Specification 2.04*, E-mu/Creative,
2006, sections 4 and 7.2).  Bank 128 holds the drum kits (section 7.2).
"""

import shutil
import struct
from collections.abc import Iterator, Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import BinaryIO

from msgspec import Struct

from groove.errors import SoundError
from groove.events import Part

KIT_BANK = 128
SOUNDFONT_VARIABLE = "GROOVE_SOUNDFONT"
FONTS_GUIDE = "soundfonts_readme.md"

_PRESET_RECORD = struct.Struct("<20sHHHIII")
_MOST_PRESETS = 65_536  # banks and programs that MIDI can tell apart, with room to spare
_MOST_CHUNKS = 64  # the specification has 3 lists and 9 chunks in the longest
_ANY_FONT = (
    "name an .sf2 or .sf3 file with --soundfont, or leave it out for the small General MIDI font"
)


class Preset(Struct, frozen=True, kw_only=True):
    """One instrument of a font: its bank, its program (0-based) and the name its maker gave it."""

    bank: int
    program: int
    name: str


class FullerFont(Struct, frozen=True, kw_only=True):
    """A free General MIDI font that sounds better than the default, and how to have it here."""

    name: str
    install: str
    path: Path


_FULLER_FONT = "FluidR3 GM, 148 MB, MIT licence"
_PACKAGES = {
    "apt-get": ("apt-get install fluid-soundfont-gm", "/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    "dnf": ("dnf install fluid-soundfont-gm", "/usr/share/soundfonts/FluidR3_GM.sf2"),
    "pacman": ("pacman -S soundfont-fluid", "/usr/share/soundfonts/FluidR3_GM.sf2"),
}
"""Package manager -> what brings the fuller font, and where it then lies: Debian's package as its
list of files has it, the other two from memory."""


class SoundfontChoice(Struct, frozen=True, kw_only=True):
    """The font that will sound, and who chose it, in words for the summary."""

    path: Path
    reason: str
    is_default: bool = False


def choose_soundfont(
    option: str | None, environment: Mapping[str, str], configured: str | None
) -> SoundfontChoice:
    """Return the font to use: the option, GROOVE_SOUNDFONT, the user's config, the default.

    The default is the General MIDI font inside the pretty_midi package.  A font that was asked
    for and is not there raises ``SoundError``: silently taking another one would hide a typing
    slip.  An empty value counts as not given.
    """
    for named, reason in (
        (option, "named by --soundfont"),
        (environment.get(SOUNDFONT_VARIABLE), f"named by {SOUNDFONT_VARIABLE}"),
        (configured, "named in the configuration"),
    ):
        if named:
            return SoundfontChoice(path=_existing(named, reason), reason=reason)
    reason = "the default, from the pretty_midi package"
    return SoundfontChoice(path=_default_font(), reason=reason, is_default=True)


def fuller_font() -> FullerFont | None:
    """Return the better font that this machine's packages have, None where none is known."""
    for tool, (install, path) in _PACKAGES.items():
        if shutil.which(tool):
            return FullerFont(name=_FULLER_FONT, install=install, path=Path(path))
    return None


def _existing(named: str, reason: str) -> Path:
    try:
        path = Path(named).expanduser()
        found = path.is_file()
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: no such user in ~user
        raise SoundError(f"no soundfont at {named!r} ({reason}): {error}", hint=_ANY_FONT) from None
    if not found:
        what = "is a folder, not a file" if path.is_dir() else "does not exist"
        raise SoundError(f"the soundfont {path} ({reason}) {what}", hint=_ANY_FONT)
    return path


def _default_font() -> Path:
    # Importing pretty_midi costs 0.1 s; its place on the disk is all that is needed.
    spec = find_spec("pretty_midi")
    folder = Path(spec.origin).parent if spec and spec.origin else None
    fonts = sorted(folder.glob("*.sf2")) if folder else []
    if not fonts:
        raise SoundError(
            "the default soundfont is missing: the pretty_midi package does not carry one here",
            hint="pip install pretty_midi, or name an .sf2 or .sf3 file with --soundfont",
        )
    return fonts[0]


def read_presets(path: Path) -> tuple[Preset, ...]:
    """Return the instruments of an SF2 or SF3 font, in the file's order.

    Reads a few kilobytes however large the font is.  Whatever else the file may be (missing,
    empty, cut short, text) raises ``SoundError`` with the place where reading stopped.
    """
    try:
        if not path.is_file():  # a pipe or a device would never end
            raise SoundError(f"no soundfont: {path} is not a file", hint=_ANY_FONT)
        with path.open("rb") as file:
            return _read_font(file, path)
    except (OSError, ValueError) as error:
        raise SoundError(f"cannot read the soundfont {path}: {error}", hint=_ANY_FONT) from None


def _read_font(file: BinaryIO, path: Path) -> tuple[Preset, ...]:
    size = file.seek(0, 2)
    file.seek(0)
    head = file.read(12)
    if size == 0:
        raise _broken(path, "the file is empty")
    if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"sfbk":
        raise _broken(path, f"expected RIFF and sfbk in the first 12 bytes, found {head!r}")
    for name, start, length in _chunks(file, path, 12, size):
        file.seek(start)
        if name == b"LIST" and length >= 4 and file.read(4) == b"pdta":
            return _read_preset_list(file, path, start + 4, start + length)
    raise _broken(path, "it has no list of instruments (pdta); it may have been cut short")


def _read_preset_list(file: BinaryIO, path: Path, start: int, end: int) -> tuple[Preset, ...]:
    for name, at, length in _chunks(file, path, start, end):
        if name == b"phdr":
            count, rest = divmod(length, _PRESET_RECORD.size)
            if rest or not 2 <= count <= _MOST_PRESETS:
                raise _broken(
                    path, f"its preset list has {length} bytes, not 2 or more records of 38"
                )
            file.seek(at)
            records = _PRESET_RECORD.iter_unpack(file.read(length))
            return tuple(_preset(record) for record in records)[:-1]
    raise _broken(path, "its list of instruments has no phdr chunk")


def _preset(record: tuple[bytes, int, int, int, int, int, int]) -> Preset:
    name = record[0].split(b"\0")[0].decode("latin-1")
    # A name goes to the terminal: no control characters from a stranger's file.
    printable = "".join(sign for sign in name if sign.isprintable()).strip()
    return Preset(bank=record[2], program=record[1], name=printable)


def _chunks(file: BinaryIO, path: Path, start: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Yield name, start and length of each chunk between two places of the file."""
    at = start
    for _ in range(_MOST_CHUNKS):
        if at + 8 > end:
            return
        file.seek(at)
        name, length = struct.unpack("<4sI", file.read(8))
        if at + 8 + length > end:
            raise _broken(path, f"the chunk {name!r} at byte {at} runs past the end")
        yield name, at + 8, length
        at += 8 + length
        file.seek(at)
        # RIFF pads odd chunks to an even length; some SF3 fonts leave the pad out after sdta.
        at += length % 2 if file.read(4) != b"LIST" else 0
    raise _broken(path, f"it has more than {_MOST_CHUNKS} chunks")


def _broken(path: Path, found: str) -> SoundError:
    return SoundError(f"{path} is no soundfont that can be read: {found}", hint=_ANY_FONT)


def require_presets(
    path: Path, presets: tuple[Preset, ...], needed: Mapping[Part, tuple[int, int]]
) -> None:
    """Raise ``SoundError`` unless the font has every part's (bank, program), naming what lacks."""
    present = {(preset.bank, preset.program) for preset in presets}
    lacking = {part: wanted for part, wanted in needed.items() if wanted not in present}
    if not lacking:
        return
    wants = ", ".join(
        f"{part} (bank {bank}, program {program})" for part, (bank, program) in lacking.items()
    )
    outs = ",".join(lacking)
    raise SoundError(
        f"the soundfont {path} has no sound for {wants}; it has {_contents(presets)}",
        hint=f"use a General MIDI font, or leave the part out: --without {outs}",
    )


def _contents(presets: tuple[Preset, ...], *, most: int = 6) -> str:
    shown = [f"{p.bank}:{p.program} {p.name}".strip() for p in presets[:most]]
    more = [f"and {len(presets) - most} more"] if len(presets) > most else []
    return ", ".join(shown + more)
