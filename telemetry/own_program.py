"""How Sidelong starts itself again as another process: as Python's module, or as the single file it was frozen into."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

_RUN = "import sys; from telemetry.cli import main; sys.exit(main(sys.argv[1:]))"
TRIAL = "read-apart"
"""The word for the process that reads files of others; nobody types it."""
MAKE_CODE = "make-code"
"""The word for the process that makes machine code; nobody types it."""
_NAME = "--as=telemetry.cli:"


def own_command(words: Sequence[str], *, named: str = "") -> list[str]:
    """The command line that runs ``sidelong`` with ``words``. ``named``: a word by which the process is known again."""
    mark = [_NAME + named] if named else []
    if getattr(sys, "frozen", False):
        return [sys.executable, *mark, *words]
    # -P: what lies in the folder that somebody stands in, a json.py of anybody's, is not imported.
    return [sys.executable, "-P", "-u", "-c", _RUN, *mark, *words]


def import_nothing_from_here() -> None:
    """From now on no Python that this process starts imports what lies in the folder that somebody stands in.

    ``multiprocessing`` starts its workers with ``python -c``, which looks there first: a ``signal.py`` among recordings of
    others would run. (PYTHONSAFEPATH, Python 3.11.)
    """
    os.environ["PYTHONSAFEPATH"] = "1"


def without_name(words: list[str]) -> list[str]:
    """The words without the mark that ``own_command`` puts before them."""
    return words[1:] if words and words[0].startswith(_NAME) else words
