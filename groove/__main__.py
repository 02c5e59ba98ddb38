"""``python -m groove`` is the command ``groove``."""

from groove.cli.main import main

main()
