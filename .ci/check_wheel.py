"""Compare what the wheel and the sdist carry with what the repository has."""

import sys
import tarfile
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def main(folder: Path) -> int:
    """Return 0 where both carry every pattern, module and page piece, and nothing of shared/."""
    (wheel,) = folder.glob("*.whl")
    (sdist,) = folder.glob("*.tar.gz")
    in_wheel = set(zipfile.ZipFile(wheel).namelist())
    with tarfile.open(sdist) as archive:
        in_sdist = {"/".join(name.split("/")[1:]) for name in archive.getnames()}
    patterns = {str(path.relative_to(ROOT)) for path in (ROOT / "patterns").rglob("*.toml")}
    modules = {str(path.relative_to(ROOT)) for path in (ROOT / "groove").rglob("*.py")}
    pages = {
        str(path.relative_to(ROOT))
        for kind in ("js", "css", "html")
        for path in (ROOT / "groove" / "page").glob(f"*.{kind}")
    }
    missing = {f"groove/{name}" for name in patterns} - in_wheel
    missing |= (modules | pages) - in_wheel
    missing |= (patterns | modules | pages) - in_sdist
    stray = {name for name in in_wheel | in_sdist if name.startswith(("shared/", "tests/"))}
    stray -= {name for name in in_sdist if name.startswith("tests/")}
    for label, names in (("missing", missing), ("stray", stray)):
        for name in sorted(names):
            print(f"{label}: {name}")
    print(
        f"wheel: {len(patterns)} patterns, {len(modules)} modules, {len(pages)} pieces of the page"
    )
    return 1 if missing or stray or not patterns or not pages else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
