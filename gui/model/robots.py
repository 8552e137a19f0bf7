"""The robots that this computer connects to: which ones lately, and how to talk to them. Kept in the settings."""

from __future__ import annotations

from gui.model.settings import UserSettings

RECENT, KNOWN = 4, 20
ROBOT_RESTS_S = 2
"""The built-in robot announces a round, rests so long, drives, and rests so long again."""


class Robots:
    """``recent``: addresses that were connected to."""

    def __init__(self, settings: UserSettings) -> None:
        self._settings = settings

    @property
    def recent(self) -> list[str]:
        """Addresses that were connected to, the last one first."""
        return [address for address in self._settings.text("recent_robots").split("\n") if address]

    @property
    def last(self) -> str:
        """Empty where none was connected yet."""
        return next(iter(self.recent), "")

    def note(self, address: str) -> None:
        """Something came from it: it is offered again at the next start."""
        known = dict.fromkeys([address, *self.recent])
        self._settings.set_text("recent_robots", "\n".join([*known][:RECENT]))

    def is_known(self, address: str) -> bool:
        """Whether lines of a robot at this address were understood before."""
        return address in self._settings.text("known_robots").split("\n")

    def know(self, address: str) -> None:
        known = dict.fromkeys([address, *self._settings.text("known_robots").split("\n")])
        self._settings.set_text("known_robots", "\n".join([one for one in known if one][:KNOWN]))

    @property
    def columns(self) -> str:
        """The columns of a robot that sends no header."""
        return self._settings.text("columns")

    @columns.setter
    def columns(self, columns: str) -> None:
        self._settings.set_text("columns", columns)

    @property
    def baud(self) -> int:
        """Bits a second on a serial port."""
        text = self._settings.text("baud", "115200")
        return int(text) if text.isdigit() and int(text) > 0 else 115200

    def capture_words(self) -> list[str]:
        """What the capture process is told besides the source: how to talk, what the columns are; no more than a journal.

        Runs are cut out of its journal. A recording of all of it is nobody's wish, and after an hour it would take seconds.
        """
        words = ["--quiet", "--journal-only", "--baud", str(self.baud)]
        return [*words, "--columns", self.columns] if self.columns else words
