"""What a single-file program starts with. Packed by the command in docs/releasing.md."""

import multiprocessing
import sys

from telemetry.cli import main

if __name__ == "__main__":
    multiprocessing.freeze_support()
    sys.exit(main())
