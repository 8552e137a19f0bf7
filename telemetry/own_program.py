"""How Sidelong starts itself again as another process: as Python's module, or as the single file it was frozen into."""

from __future__ import annotations

import sys
from collections.abc import Sequence

_RUN = "import sys; from telemetry.cli import main; sys.exit(main(sys.argv[1:]))"
_NAME = "--as=telemetry.cli:"


def own_command(words: Sequence[str], *, named: str = "") -> list[str]:
    """The command line that runs ``sidelong`` with ``words``. ``named``: a word by which the process is known again."""
    mark = [_NAME + named] if named else []
    if getattr(sys, "frozen", False):
        return [sys.executable, *mark, *words]
    return [sys.executable, "-u", "-c", _RUN, *mark, *words]


def without_name(words: list[str]) -> list[str]:
    """The words without the mark that ``own_command`` puts before them."""
    return words[1:] if words and words[0].startswith(_NAME) else words
