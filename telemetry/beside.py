"""The one place where a file is written beside its name: a name nobody can foresee, never through a link, with our own mark.

``.sidelong-`` and 16 random hex digits: whatever clears up removes only what is called so, is a plain file, and is held by
nobody. Windows has no O_NOFOLLOW; there O_EXCL alone refuses what is there already, a link included.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
import stat
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, Final

_OURS: Final = re.compile(r"\.sidelong-[0-9a-f]{16}\.(?:part|lock)")
NO_FOLLOW: Final[int] = getattr(os, "O_NOFOLLOW", 0)
_PLAIN: Final[int] = getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0) | NO_FOLLOW
NO_WAIT: Final[int] = getattr(os, "O_NONBLOCK", 0)
"""Opening a pipe must not wait for its other end."""
RECORDINGS: Final = (b"\x89HDF\r\n\x1a\n", b"\x89SLJ\r\n\x1a\n")
"""How recordings and the journals of captures begin; no text does."""


def part_beside(path: Path) -> Path:
    """A new name in the folder of ``path``."""
    return path.parent / f".sidelong-{secrets.token_hex(8)}.part"


def lock_beside(path: Path, digits: str) -> Path:
    """The name of a lock file in the folder of ``path``; ``digits``: 16 hex digits that stand for what is locked."""
    return path.parent / f".sidelong-{digits}.lock"


def is_ours(name: str) -> bool:
    """Whether a file of this name was made by ``part_beside`` or ``lock_beside``."""
    return _OURS.fullmatch(name) is not None


def create(path: Path) -> int:
    """A new plain file, opened for reading and writing. Raises FileExistsError where anything, a link too, is there."""
    return os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | _PLAIN, 0o666)


def open_plain(path: Path, *, make: bool = False) -> int:
    """A file that is there (or, with ``make``, made): never a link, pipe or device. Raises OSError."""
    fd = os.open(path, os.O_RDWR | (os.O_CREAT if make else 0) | NO_WAIT | _PLAIN, 0o666)
    if not stat.S_ISREG(os.fstat(fd).st_mode):
        os.close(fd)
        raise OSError(errno.EINVAL, "this is not a plain file", str(path))
    return fd


def open_to_read(path: Path) -> int:
    """A plain file, perhaps through a link; never a pipe, which would be waited for, or a device. Raises OSError."""
    try:
        _ask_kind(path.stat(), path)  # before it is opened: a device may do something when it is
    except ValueError as error:
        raise OSError(errno.EINVAL, "no file has such a name", str(path)) from error
    fd = os.open(path, os.O_RDONLY | NO_WAIT | (_PLAIN & ~NO_FOLLOW))
    try:
        _ask_kind(os.fstat(fd), path)
    except OSError:
        os.close(fd)
        raise
    return fd


def _ask_kind(info: os.stat_result, path: Path) -> None:
    if stat.S_ISDIR(info.st_mode):
        raise OSError(errno.EISDIR, "this is a folder", str(path))
    if not stat.S_ISREG(info.st_mode):
        raise OSError(errno.EINVAL, "this is not a plain file (a pipe or a device)", str(path))


def read_plain(path: Path, most_bytes: int) -> bytes:
    """All of a plain file of at most so many bytes. Raises OSError."""
    with os.fdopen(open_to_read(path), "rb") as file:
        return read_open(file, most_bytes, path)


def read_open(file: BinaryIO, most_bytes: int, path: Path) -> bytes:
    """All of an open file of at most so many bytes; ``path`` is for what is said. Raises OSError."""
    # The size is asked first: a hole of gigabytes need not be read to be refused.
    data = file.read(most_bytes + 1) if os.fstat(file.fileno()).st_size <= most_bytes else None
    if data is None or len(data) > most_bytes:
        raise OSError(errno.EFBIG, f"more than {most_bytes >> 10:,} kB, which no such file has", str(path))
    return data


def give_new_name(part: Path, target: Path) -> None:
    """Give ``part`` the name ``target``. Raises FileExistsError where that is taken: nothing is overwritten.

    A drive without hard links (FAT) takes the name first and then renames over it.
    """
    if os.name == "nt":
        part.rename(target)
        return
    try:
        os.link(part, target, follow_symlinks=False)
    except FileExistsError:
        raise
    except OSError as error:
        if error.errno not in {errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK, errno.ENOTSUP, errno.EACCES}:
            raise
        os.close(create(target))
        try:
            part.replace(target)
        except OSError:
            with suppress(OSError):
                target.unlink()
            raise
    else:
        part.unlink()


def is_recording(path: Path) -> bool:
    """Whether there is a file that begins as a recording or a journal does."""
    try:
        with os.fdopen(open_to_read(path), "rb") as file:
            return file.read(8) in RECORDINGS
    except OSError:
        return False


def refuse_recording(path: Path) -> None:
    """Raises FileExistsError for a recording: with a word too few on a command line it stands where an output should."""
    if is_recording(path):
        raise FileExistsError(errno.EEXIST, "this is a recording, and none is written over", str(path))


def set_aside(path: Path) -> Path | None:
    """Keep what is about to be replaced: 'x.toml' also as 'x.before-1.toml'. That name, None where there is no file.

    The file itself stays where it is until it is replaced, so a failure in between loses nothing.
    """
    if not path.is_file():
        return None
    refuse_recording(path)
    number = 1
    while os.path.lexists(kept := path.with_name(f"{path.stem}.before-{number}{path.suffix}")):
        number += 1
    with os.fdopen(open_to_read(path), "rb") as old:
        fd = create(kept)
        _copy(old, fd, kept)
    return kept


def _copy(old: BinaryIO, fd: int, kept: Path) -> None:
    """All of ``old`` into the new file ``fd``, removed where that fails. In blocks: it may be a file of any size."""
    try:
        with os.fdopen(fd, "wb") as file:
            while data := old.read(1 << 20):
                file.write(data)
    except OSError:
        with suppress(OSError):
            kept.unlink()
        raise


def ours_alone(folder: Path) -> bool:
    """Make ``folder`` and say whether nobody else can write into it, because what is loaded from it runs.

    On Windows a user's own folders are his alone; elsewhere owner and rights are asked.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        info = folder.lstat()
    except OSError:
        return False
    if not stat.S_ISDIR(info.st_mode):
        return False
    return os.name == "nt" or (info.st_uid == os.geteuid() and not info.st_mode & 0o022)
