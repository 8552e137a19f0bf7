"""How a strategy is called on the screen: a named one by its name, one from a file by the file's."""

from __future__ import annotations

from pathlib import Path

FILES = frozenset({".toml", ".py"})


def strategy_name(spec: str) -> str:
    """``hold`` for ``hold``, ``ours`` for ``/season/ours.toml``."""
    path = Path(spec)
    return path.stem if path.suffix in FILES else spec
