"""``python -m groove`` is the command ``groove``."""

from groove.cli.entry import entry

if __name__ == "__main__":
    entry()
