"""Programs of their own that the window starts: a capture, and the built-in robot. They outlive a window that dies."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

from telemetry.beside import read_plain
from telemetry.own_program import own_command

_MOST_SAID_BYTES = 16 << 20


def start_command(words: list[str], named: str, out: Path, err: Path) -> subprocess.Popen[bytes]:
    """Start ``sidelong`` with these words, detached from the window; what it says goes into two files.

    ``named`` stands before the words and means nothing to it: by this it is known again.
    """
    flags = 0
    if sys.platform == "win32":
        flags = subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW
    with out.open("wb") as told, err.open("wb") as wrong:
        return subprocess.Popen(
            own_command(words, named=named),
            stdin=subprocess.DEVNULL,
            stdout=told, stderr=wrong, start_new_session=sys.platform != "win32", creationflags=flags,
        )  # fmt: skip


def is_running(pid: int, named: str) -> bool:
    """Whether a ``sidelong`` of ours runs under this number, with ``named`` among its words.

    A number alone says little: after a restart it may be anybody's.
    """
    return pid > 0 and all(word in _command_line(pid) for word in ("telemetry.cli", named))


def _command_line(pid: int) -> str:
    """How a process was started; empty where there is none (one that has ended and waits for its parent, too)."""
    if sys.platform == "linux":
        try:
            return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode("utf-8", "surrogateescape")
        except OSError:
            return ""
    elif sys.platform == "win32":
        ask = f"(Get-CimInstance Win32_Process -Filter 'ProcessId={pid}').CommandLine"
        return _said(["powershell", "-NoProfile", "-Command", ask])
    else:
        return _said(["ps", "-ww", "-o", "command=", "-p", str(pid)])


def _said(words: list[str]) -> str:
    try:
        return subprocess.run(words, capture_output=True, check=False).stdout.decode("utf-8", "replace")
    except OSError:
        return ""


def ask_to_stop(pid: int) -> None:
    """Ask a process to end in order, as Ctrl+C in its terminal would."""
    try:
        if sys.platform == "win32":
            os.kill(pid, signal.CTRL_BREAK_EVENT)
        else:
            os.kill(pid, signal.SIGINT)
    except (ProcessLookupError, PermissionError, OSError):
        return


def end_process(process: subprocess.Popen[bytes] | None, pid: int, named: str) -> None:
    """End a process in order, by force where it does not; ``process`` None: one that another window started.

    ``named``: as with ``is_running``, without which nothing that another window started is touched.
    """
    if process is None:
        if not is_running(pid, named):
            return
        ask_to_stop(pid)
        until = time.monotonic() + 3.0
        while is_running(pid, named) and time.monotonic() < until:
            time.sleep(0.02)
        if is_running(pid, named):
            with suppress(OSError):
                os.kill(pid, getattr(signal, "SIGKILL", signal.SIGTERM))
        return
    if process.poll() is None:
        ask_to_stop(pid)
        try:
            process.wait(3.0)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(3.0)


def said_in(log: Path) -> str:
    """All that a program said into a file; empty where that is gone, or is no file that a program of ours wrote."""
    try:
        return read_plain(log, _MOST_SAID_BYTES).decode("utf-8", "replace")
    except OSError:
        return ""


def last_words(log: Path) -> str:
    """What a program said before it ended, without its name in front."""
    lines = said_in(log).strip().splitlines()
    return lines[-1].removeprefix("sidelong: ").rstrip(".") if lines else ""
