"""``python -m groove`` is the command ``groove``."""

from groove.cli.main import main

if __name__ == "__main__":
    main()
