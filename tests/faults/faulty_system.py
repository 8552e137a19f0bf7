"""The system's own calls that change a folder, of which the n-th fails: opening to write, writing, flushing, renaming.

Only what lies in ``place`` counts. After the one that failed everything works again, as where somebody made room.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from telemetry.recording.disk import storage


class Failing:
    """``at``: number of the call that fails, from 0. ``calls``: how many there were. ``failed``: which one it was."""

    def __init__(self, place: Path, at: int, number: int = errno.ENOSPC) -> None:
        self.place, self.at, self.number = str(place.resolve()), at, number
        self.calls = 0
        self.failed = ""

    def ask(self, what: str) -> None:
        here, self.calls = self.calls, self.calls + 1
        if here == self.at:
            self.failed = what
            raise OSError(self.number, os.strerror(self.number))

    def counts(self, path: object) -> bool:
        if isinstance(path, int):
            try:
                path = Path(f"/proc/self/fd/{path}").readlink()
            except OSError:
                return False
        return isinstance(path, str | os.PathLike) and os.path.abspath(path).startswith(self.place)  # noqa: PTH100


def _of_path(failing: Failing, real: Callable[..., Any], what: str, which: int = 0) -> Callable[..., Any]:
    def call(*args: Any, **options: Any) -> Any:
        if failing.counts(args[which]):
            failing.ask(what)
        return real(*args, **options)

    return call


def _opening(failing: Failing, real: Callable[..., Any]) -> Callable[..., Any]:
    def call(file: Any, mode: Any = "r", *args: Any, **options: Any) -> Any:
        if isinstance(mode, str) and set(mode) & set("wax+") and not isinstance(file, int) and failing.counts(file):
            failing.ask("open")
        return real(file, mode, *args, **options)

    return call


def _os_open(failing: Failing, real: Callable[..., int]) -> Callable[..., int]:
    def call(path: Any, flags: int, *args: Any, **options: Any) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT) and failing.counts(path):
            failing.ask("open")
        return real(path, flags, *args, **options)

    return call


def _method(failing: Failing, real: Callable[..., Any], what: str) -> Callable[..., Any]:
    def call(self: Any, *args: Any) -> Any:
        failing.ask(what)
        return real(self, *args)

    return call


class _Writer:
    """A buffered file whose writing may fail, in place of what ``os.fdopen`` gives."""

    def __init__(self, failing: Failing, file: Any) -> None:
        self._failing, self._file = failing, file

    def write(self, data: Any) -> int:
        self._failing.ask("write")
        return int(self._file.write(data))

    def __enter__(self) -> _Writer:
        return self

    def __exit__(self, *error: object) -> None:
        self._file.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


def _fdopen(failing: Failing, real: Callable[..., Any]) -> Callable[..., Any]:
    def call(fd: int, mode: str = "r", *args: Any, **options: Any) -> Any:
        file = real(fd, mode, *args, **options)
        return _Writer(failing, file) if mode == "wb" and failing.counts(fd) else file

    return call


@contextmanager
def failing_system(failing: Failing) -> Iterator[None]:
    """While the block lasts, the calls go through ``failing``."""
    changes: list[tuple[Any, str, Any]] = [
        (os, "open", _os_open(failing, os.open)), (os, "fdopen", _fdopen(failing, os.fdopen)),
        (builtins, "open", _opening(failing, builtins.open)), (io, "open", _opening(failing, io.open)),
        (os, "replace", _of_path(failing, os.replace, "replace", 1)),
        (os, "rename", _of_path(failing, os.rename, "rename", 1)),
        (os, "link", _of_path(failing, os.link, "link", 1)), (os, "unlink", _of_path(failing, os.unlink, "unlink")),
        (os, "fsync", _of_path(failing, os.fsync, "fsync")), (os, "mkdir", _of_path(failing, os.mkdir, "mkdir")),
        (os, "write", _of_path(failing, os.write, "write")),
        (storage._Image, "write", _method(failing, storage._Image.write, "write")),
    ]  # fmt: skip
    before = [(owner, name, getattr(owner, name)) for owner, name, _ in changes]
    for owner, name, new in changes:
        setattr(owner, name, new)
    try:
        yield
    finally:
        for owner, name, old in before:
            setattr(owner, name, old)
