"""The whole error tree. Every error says what is wrong, where, and what to do, and carries the exit code for scripts.

Library exceptions are translated at the edge where they arise: nobody above sees a traceback.
"""

from __future__ import annotations

from typing import ClassVar, Self

EXIT_OK = 0
EXIT_DIFFERS = 1
"""The work was done and the answer is no: a guard found a difference, a re-check found a shift."""
EXIT_USAGE = 2
EXIT_INPUT = 3
EXIT_LINK = 4
EXIT_STORAGE = 5
EXIT_MISSING = 6
"""A part of the installation is absent, such as the window or the compiler for sweeps."""
EXIT_BUG = 70
"""A fault in Sidelong itself."""
EXIT_INTERRUPTED = 130
EXIT_PIPE = 141
"""Whoever read the output went away, as with '| head': the answer was not all told, so it must not pass for a yes."""


def as_sentence(words: object) -> str:
    """With a full stop, unless it ends as a sentence does already, or in a colon."""
    text = str(words)
    return text if text.endswith((".", "?", "!", ":")) else f"{text}."


class SidelongError(Exception):
    """Anything that Sidelong tells its user instead of a traceback.

    ``what`` is one clause, ``where`` names the file, line, port or key, ``todo`` says what to do about it.
    """

    exit_code: ClassVar[int] = EXIT_INPUT

    def __init__(self, what: str, *, where: str = "", todo: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.todo = todo

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        return f"{text}. {self.todo}" if self.todo else text

    def alone(self) -> Self:
        """Itself without the frames it came through, to be told later: they hold all that had been read of a bad file."""
        self.__cause__ = self.__context__ = None
        return self.with_traceback(None)


class UsageError(SidelongError):
    """The command's words are off."""

    exit_code = EXIT_USAGE


class StreamError(SidelongError):
    """A header, unit or list of columns that cannot be understood."""


class ColumnsError(StreamError):
    """The columns named on the command line."""

    exit_code = EXIT_USAGE


class CourseError(SidelongError):
    """A course file that is unreadable, misspelt or impossible."""


class TruthError(SidelongError):
    """A truth that does not fit its course."""


class PaletteError(SidelongError):
    """A palette that is unreadable, or captures that cannot make one."""


class StrategyError(SidelongError):
    """A strategy or setting that does not exist or cannot be built."""


class SettingError(StrategyError):
    """A setting given on the command line."""

    exit_code = EXIT_USAGE


class RecordingError(SidelongError):
    """A file that is no recording, is damaged, or comes from a newer version."""


class LinkError(SidelongError):
    """The robot cannot be reached, or the link dropped for good."""

    exit_code = EXIT_LINK


class StorageError(SidelongError):
    """What was to be kept cannot be written: disk full, folder gone, file in use by another capture."""

    exit_code = EXIT_STORAGE


class NotThereError(StorageError):
    """A file or folder that was named and is not there."""

    exit_code = EXIT_INPUT


class MissingPartError(SidelongError):
    """An optional part of the installation is absent."""

    exit_code = EXIT_MISSING


class FaultError(SidelongError):
    """A fault in Sidelong itself, where the rest of the work goes on without what it befell."""

    exit_code = EXIT_BUG

    @classmethod
    def of(cls, error: BaseException, where: str) -> FaultError:
        """Made of an exception that nobody expected."""
        what = f"this is a fault in Sidelong itself ({type(error).__name__}: {error})"
        return cls(what, where=where, todo="Please report it; 'sidelong doctor' says where its trace is.")
