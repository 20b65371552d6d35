"""Run the command line as ``python -m pipelines``."""

import sys

from pipelines.commands.cli import run

if __name__ == "__main__":
    sys.exit(run())
