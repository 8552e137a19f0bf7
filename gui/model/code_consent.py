"""Code of others runs only after its user has seen which file it is, and said yes; until the window closes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from telemetry.errors import StrategyError


def nobody_there(_path: str) -> bool:
    """The answer where nobody can be asked."""
    return False


class CodeConsent:
    """Which Python files may run, each as it was when that was said. ``question``: shows a path, True for yes."""

    def __init__(self) -> None:
        self.question: Callable[[str], bool] = nobody_there
        self._allowed: dict[str, str] = {}

    def holds_for(self, path: str) -> bool:
        """Whether this file, as it is now, may run. Raises StrategyError where it cannot be read."""
        path = str(Path(path).resolve())
        return path in self._allowed and self._allowed[path] == _digest(path)

    def asks(self, path: str) -> bool:
        """Whether it may run, asked where that is not known. Raises StrategyError where it cannot be read."""
        path = str(Path(path).resolve())
        if not self.holds_for(path):
            seen = _digest(path)
            if not self.question(path):
                return False
            self._allowed[path] = seen
        return self.holds_for(path)  # not where it was changed meanwhile

    def in_use(self) -> list[str]:
        """The files that may run and are still as they were."""
        return [path for path in self._allowed if Path(path).is_file() and self.holds_for(path)]


def _digest(path: str) -> str:
    from hashlib import blake2b

    from telemetry.given_file import given_bytes

    return blake2b(given_bytes(Path(path), StrategyError), digest_size=16).hexdigest()
