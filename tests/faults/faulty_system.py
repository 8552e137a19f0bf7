"""The system's own calls on a folder, of which the n-th fails: opening, writing, flushing, closing, renaming, removing.

Only what lies in ``place`` counts. After the one that failed everything works again, as where somebody made room.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from telemetry.recording.disk import storage
from telemetry.recording.hdf5 import reader


class Failing:
    """``at``: number of the call that fails, from 0. ``calls``: how many there were, ``kinds``: of each kind.

    ``failed``: which one it was.
    """

    def __init__(self, place: Path, at: int, number: int = errno.ENOSPC) -> None:
        self.place, self.at, self.number = str(place.resolve()), at, number
        self.calls = 0
        self.kinds: Counter[str] = Counter()
        self.failed = ""

    def ask(self, what: str) -> None:
        here, self.calls = self.calls, self.calls + 1
        self.kinds[what] += 1
        if here == self.at:
            self.failed = what
            raise OSError(self.number, os.strerror(self.number))

    def counts(self, path: object) -> bool:
        if isinstance(path, int):
            try:
                path = Path(f"/proc/self/fd/{path}").readlink()
            except OSError:
                return False
        if isinstance(path, bytes):
            path = os.fsdecode(path)
        return isinstance(path, str | os.PathLike) and os.path.abspath(path).startswith(self.place)  # noqa: PTH100


def _of_path(failing: Failing, real: Callable[..., Any], what: str, which: int = 0) -> Callable[..., Any]:
    def call(*args: Any, **options: Any) -> Any:
        if failing.counts(args[which]):
            failing.ask(what)
        return real(*args, **options)

    return call


def _opening(failing: Failing, real: Callable[..., Any]) -> Callable[..., Any]:
    def call(file: Any, mode: Any = "r", *args: Any, **options: Any) -> Any:
        ours = isinstance(mode, str) and not isinstance(file, int) and failing.counts(file)
        writes = ours and bool(set(mode) & set("wax+"))
        if ours:
            failing.ask("open to write" if writes else "open to read")
        opened = real(file, mode, *args, **options)
        return _Writer(failing, opened) if writes else opened

    return call


def _os_open(failing: Failing, real: Callable[..., int]) -> Callable[..., int]:
    def call(path: Any, flags: int, *args: Any, **options: Any) -> int:
        if failing.counts(path):
            failing.ask("open to write" if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT) else "open to read")
        return real(path, flags, *args, **options)

    return call


def _h5_open(failing: Failing, real: Callable[..., Any]) -> Callable[..., Any]:
    def call(name: Any, *args: Any, **options: Any) -> Any:
        if failing.counts(name):
            failing.ask("open to read")
        return real(name, *args, **options)

    return call


def _method(failing: Failing, real: Callable[..., Any], what: str) -> Callable[..., Any]:
    def call(self: Any, *args: Any) -> Any:
        failing.ask(what)
        return real(self, *args)

    return call


class _Writer:
    """A buffered file of which the writing, the flushing and the last flush, at the closing, may fail."""

    def __init__(self, failing: Failing, file: Any) -> None:
        self._failing, self._file = failing, file

    def write(self, data: Any) -> int:
        self._failing.ask("write")
        return int(self._file.write(data))

    def flush(self) -> None:
        self._failing.ask("flush")
        self._file.flush()

    def close(self) -> None:
        if not self._file.closed:
            try:
                self._failing.ask("close")
            finally:
                self._file.close()

    def __enter__(self) -> _Writer:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

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
        (reader.h5f, "open", _h5_open(failing, reader.h5f.open)),
        (os, "replace", _of_path(failing, os.replace, "rename", 1)),
        (os, "rename", _of_path(failing, os.rename, "rename", 1)),
        (os, "link", _of_path(failing, os.link, "rename", 1)), (os, "unlink", _of_path(failing, os.unlink, "remove")),
        (os, "fsync", _of_path(failing, os.fsync, "flush")), (os, "mkdir", _of_path(failing, os.mkdir, "make a folder")),
        (os, "write", _of_path(failing, os.write, "write")), (os, "ftruncate", _of_path(failing, os.ftruncate, "write")),
        (os, "scandir", _of_path(failing, os.scandir, "list")), (os, "listdir", _of_path(failing, os.listdir, "list")),
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
