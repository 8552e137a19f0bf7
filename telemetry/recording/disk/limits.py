"""What a process of ours that reads files of others may use. Windows has no such limits, only the time its caller gives."""

from __future__ import annotations

import sys
from typing import Final

MEMORY_BYTES: Final = 900 << 20


def take_limits() -> None:
    """From here on this process has bounded memory, writes no file and leaves no dump when it dies."""
    if sys.platform == "win32":
        return
    import resource

    for name, most in (("RLIMIT_DATA", MEMORY_BYTES), ("RLIMIT_FSIZE", 0), ("RLIMIT_CORE", 0)):
        kind = getattr(resource, name, None)
        if kind is None:
            continue
        try:
            _, hard = resource.getrlimit(kind)
            resource.setrlimit(kind, (most if hard < 0 else min(most, hard), hard))
        except (OSError, ValueError):
            continue
