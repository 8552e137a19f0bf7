"""``python -m gui``: the same as ``sidelong window``."""

import sys

from telemetry.cli import main

sys.exit(main(["window", *sys.argv[1:]]))
