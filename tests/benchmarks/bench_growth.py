"""What a song that grows costs beside one that plays every time like the first.

    python -m tests.benchmarks.bench_growth [--smoke]

The shipped charts from text to performance, ``vary: some`` and ``much`` against ``none``, in turn.
"""

import math
import sys
import time

from groove.chart.model import Vary
from groove.io.library import load_library
from groove.pipeline import PerformOptions, perform_chart
from tests.conftest import ROOT

LIMIT = 1.2
"""Growth costs at most a fifth of the time."""


def main() -> int:
    """Print the table; return 1 where the limit is passed (never in smoke mode)."""
    smoke = "--smoke" in sys.argv
    library = load_library()
    charts = sorted((ROOT / "shared" / "charts").glob("*.txt"))[: 1 if smoke else None]
    texts = [path.read_text(encoding="utf-8") for path in charts]
    ms = dict.fromkeys(Vary, math.inf)
    for _ in range(1 if smoke else 15):
        for vary in Vary:
            options = PerformOptions(vary=vary)
            start = time.process_time()
            for text in texts:
                perform_chart(text, library, options)
            ms[vary] = min(ms[vary], (time.process_time() - start) * 1000)
    ratios = {vary: ms[vary] / ms[Vary.NONE] for vary in (Vary.SOME, Vary.MUCH)}
    for vary, ratio in ratios.items():
        print(f"vary {vary} {ms[vary]:.0f} ms / none {ms[Vary.NONE]:.0f} ms{ratio:>10.2f}")
    return 0 if smoke else int(ratios[Vary.SOME] > LIMIT)


if __name__ == "__main__":
    sys.exit(main())
