"""What the decoder has to tell a person: each thing once, and of one kind not without end."""

from __future__ import annotations

from collections import Counter
from typing import Final

MOST: Final = 20
"""Of one kind."""


class Remarks:
    """``new``: sentences that nobody has taken yet."""

    def __init__(self) -> None:
        self.new: list[str] = []
        self._said: set[str] = set()
        self._kinds: Counter[str] = Counter()

    def say(self, key: str, sentence: str) -> None:
        """Said once a ``key``; its first word is the kind."""
        kind = key.partition(" ")[0]
        if key not in self._said and self._kinds[kind] < MOST:
            self._said.add(key)
            self._kinds[kind] += 1
            self.new.append(sentence)

    def heard(self, note: str) -> None:
        """A note that says which of our readers drives (``reader,STRATEGY,FINGERPRINT``) is said to people, too."""
        kind, _, rest = note.partition(",")
        name, comma, mark = rest.rpartition(",")
        if kind == "reader" and comma and name and mark:
            self.say(f"reader {note}", f"The robot drives with reader {mark[:40]} of '{name[:80]}'.")

    def take(self) -> tuple[str, ...]:
        taken, self.new = tuple(self.new), []
        return taken
