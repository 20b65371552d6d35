"""Run the command line as ``python -m pipelines``."""

import sys

from pipelines.commands.cli import main

if __name__ == "__main__":
    sys.exit(main())
