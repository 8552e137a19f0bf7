"""``sidelong doctor``: which parts work on this computer, and how to fix the rest."""

from __future__ import annotations

import argparse
import importlib.metadata
import importlib.util
import os
import platform
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from telemetry.commands.options import json_option, write_json
from telemetry.errors import EXIT_MISSING, EXIT_OK, LinkError
from telemetry.extras import how_to_add
from telemetry.logbook import log_path
from telemetry.safe_text import for_json

WINDOW_TRY = "from PySide6.QtWidgets import QApplication; QApplication([]); import pyqtgraph"
"""What a child process does to find out whether the window could open here: Qt ends the whole process where it cannot."""
WINDOW_TRY_TIMEOUT_S = 30.0
LEAST_FREE_BYTES = 200_000_000
SIGNS = {"works": "ok", "missing": "--", "fails": "!!"}


@dataclass(frozen=True, slots=True)
class PartState:
    """One part: ``state`` is works, missing (an optional part is absent) or fails; ``mend`` says what to do about it."""

    part: str
    state: str
    what: str
    mend: str = ""


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--no-ble", action="store_true", help="do not use Bluetooth (some events forbid radio)")
    json_option(parser, "the result")
    parser.epilog = "The exit code is 6 when a part that is installed does not work here."


def run(args: argparse.Namespace) -> int:
    found: list[PartState] = []
    for check in checks(ble=not args.no_ble):
        found.append(check)
        if not args.json:
            _print(check)
    if args.json:
        write_json(for_json([asdict(check) for check in found], indent=1), args.json)
    return EXIT_MISSING if any(check.state == "fails" for check in found) else EXIT_OK


def _print(check: PartState) -> None:
    from telemetry.report.table import printable

    print(f"{SIGNS[check.state]}  {check.part:<12}{printable(check.what)}", flush=True)
    if check.mend:
        print(f"{'':16}{printable(check.mend)}", flush=True)


def checks(*, ble: bool = True) -> Iterator[PartState]:
    """Every check in turn, the quick ones first."""
    every: list[Callable[[], PartState]] = [_program, _storage, _folder, _window, _serial]
    if ble:
        every.append(_ble)
    for check in every:
        yield check()
    yield _package("sweeps", "numba", "compiles the reading logic for large comparisons", "sweep")
    yield _package("parquet", "pyarrow", "writes and reads Parquet", "export")
    yield _package("margins", "scipy", "alters height and light in recordings, to say how much more they bear", "tune")
    yield _package("tuning", "optuna", "searches large numbers of settings", "tune")
    yield _package("cluster", "distributed", "spreads a comparison over several computers", "cluster")
    yield _tool("C compiler", ("cc", "gcc", "clang"), "compiles and checks 'sidelong reader --language c'")
    yield _tool("MicroPython", ("micropython",), "checks 'sidelong reader' as the robot would run it")


def _program() -> PartState:
    system = f"{platform.system()} {platform.machine()}"
    version = importlib.metadata.version("sidelong")
    return PartState("Sidelong", "works", f"{version}, Python {platform.python_version()}, {system}")


def _storage() -> PartState:
    try:
        versions = ", ".join(f"{name} {importlib.metadata.version(name)}" for name in ("numpy", "h5py"))
        for name in ("numpy", "telemetry.recording.load"):
            importlib.import_module(name)
    except ImportError as error:
        return PartState(
            "recordings", "fails", f"cannot be read: {error}", "python -m pip install --force-reinstall numpy h5py"
        )
    return PartState("recordings", "works", versions)


def _folder() -> PartState:
    here = Path.cwd()
    if not os.access(here, os.W_OK):
        return PartState("this folder", "fails", f"{here} cannot be written to", "Change to a folder of your own.")
    free = shutil.disk_usage(here).free
    what = f"{here}, {free / 1e9:.1f} GB free; the log of failures is {log_path()}"
    if free < LEAST_FREE_BYTES:
        return PartState("this folder", "fails", what, "Make room before recording.")
    return PartState("this folder", "works", what)


def _window() -> PartState:
    for name in ("PySide6", "pyqtgraph"):
        if importlib.util.find_spec(name) is None:
            mend = f"{how_to_add('gui')}. Everything else works without the window."
            return PartState("window", "missing", f"{name} is not installed", mend)
    qt = f"Qt {_version('PySide6')}".strip()
    if not _has_display():
        return PartState("window", "missing", f"{qt}; there is no display", "Log in on a desktop, or use ssh -X.")
    if getattr(sys, "frozen", False):  # Python itself cannot be started there, and a window that fails ends this process
        return PartState("window", "works", f"{qt}; not tried from a single file: 'sidelong window' tells")
    try:
        tried = subprocess.run(
            [sys.executable, "-P", "-c", WINDOW_TRY], capture_output=True, text=True, check=False,
            timeout=WINDOW_TRY_TIMEOUT_S,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return PartState("window", "fails", f"{qt} did not start within {WINDOW_TRY_TIMEOUT_S:.0f} s", "Try again.")
    if tried.returncode:
        lines = [line for line in tried.stderr.splitlines() if line.strip()]
        mend = "The README names the system packages that a window needs."
        return PartState("window", "fails", f"{qt}: {lines[-1] if lines else 'it ended at once'}", mend)
    return PartState("window", "works", qt)


def _has_display() -> bool:
    """On Linux a window needs an X or Wayland display, or Qt's own platform that shows nothing."""
    if platform.system() != "Linux":
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"))


def _serial() -> PartState:
    from telemetry.sources.ports import serial_ports

    ports = serial_ports()
    if not ports:
        mend = "Plug the robot in with a cable that carries data, and switch it on."
        return PartState("serial", "works", "no port is there now", mend)
    closed = [port.device for port in ports if Path(port.device).exists() and not os.access(port.device, os.R_OK | os.W_OK)]
    if closed:
        mend = "sudo usermod -aG dialout $USER, then log out and in again (some systems call the group uucp)."
        return PartState("serial", "fails", f"no permission for {', '.join(closed)}", mend)
    return PartState("serial", "works", ", ".join(port.device for port in ports))


def _ble() -> PartState:
    from telemetry.sources.ble.source import scan

    try:
        devices = scan(1.0)
    except LinkError as error:
        return PartState("Bluetooth", "missing", error.what, error.todo)
    return PartState("Bluetooth", "works", f"{len(devices)} {'device' if len(devices) == 1 else 'devices'} heard within 1 s")


def _package(part: str, name: str, use: str, extra: str) -> PartState:
    if importlib.util.find_spec(name) is None:
        frozen = getattr(sys, "frozen", False)
        mend = "This single file was packed without it." if frozen else how_to_add(extra)
        return PartState(part, "missing", f"{name} is not installed; it {use}", mend)
    return PartState(part, "works", f"{name} {_version(name)}{use}")


def _version(name: str) -> str:
    """With a blank behind it; nothing where a single-file program was packed without it."""
    try:
        return f"{importlib.metadata.version(name)} "
    except importlib.metadata.PackageNotFoundError:
        return ""


def _tool(part: str, names: tuple[str, ...], use: str) -> PartState:
    beside = str(Path(sys.executable).parent)
    for name in names:
        path = shutil.which(name) or shutil.which(name, path=beside)
        if path:
            return PartState(part, "works", f"{path} {use}")
    return PartState(
        part, "missing", f"{' or '.join(names)} is not found; it {use}", "Optional: install it if you need that."
    )
