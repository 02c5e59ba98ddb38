"""Where the process ``groove`` begins: made safe first, then everything else is loaded."""

from groove.cli.garbage import collect_rarely
from groove.cli.interrupts import ignore_stops, keep_last_line, stop_cleanly
from groove.cli.threads import compute_alone


def entry() -> None:
    """Run the command line as a process of its own."""
    stop_cleanly()
    compute_alone()
    # Before the libraries are loaded, whose many definitions are no garbage either.
    collect_rarely()
    from groove.cli.main import main
    from groove.io.streams import hold_standard_streams

    hold_standard_streams()
    keep_last_line()
    try:
        main()
    finally:
        ignore_stops()
