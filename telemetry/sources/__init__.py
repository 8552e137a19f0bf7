"""Where streams come from. ``open_source`` takes what a user writes and gives the source, not yet opened."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from telemetry.sources.source import EndOfStream, Source

__all__ = ["EndOfStream", "Source", "open_source"]


def _robot(spec: str, options: dict[str, Any]) -> Source:
    from telemetry.sources.synthetic.runs import parse_robot, runs_in_a_row
    from telemetry.sources.synthetic.source import SyntheticRobot

    asked = parse_robot(spec.partition(":")[2])
    pace = {"speed_up": asked.pop("speed_up"), **_only(options, "clock", "sleep", "speed_up")}
    return SyntheticRobot(runs_in_a_row(**asked), name=spec, **pace)


def _ble(spec: str, options: dict[str, Any]) -> Source:
    from telemetry.sources.ble.source import BleSource, BleWish

    wishes = _only(options, "service", "notify", "write", "greeting", "own_pipe", "scan_timeout_s")
    if "reconnect_s" in options:
        wishes["give_up_s"] = options["reconnect_s"]
    return BleSource(BleWish(spec.partition(":")[2].strip(), **wishes))


def _text(spec: str, options: dict[str, Any]) -> Source:  # noqa: ARG001 - a file has no options
    from telemetry.sources.text_file import TextFile

    return TextFile(spec)


def _serial(spec: str, options: dict[str, Any]) -> Source:
    from telemetry.sources.serial.port import SerialPort

    return SerialPort(spec, **_only(options, "baud", "dtr", "rts", "reconnect_s", "end_is_drop", "clock"))


def _only(options: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: options[name] for name in names if name in options}


def _is_text(spec: str) -> bool:
    """A file that is there; or a name that looks like one, so that a mistyped file is not called a missing port."""
    from pathlib import Path

    path = Path(spec)
    return path.is_file() or (not spec.startswith("/dev/") and path.suffix.lower() in {".txt", ".log", ".csv", ".tsv"})


SOURCES: tuple[tuple[Callable[[str], bool], Callable[[str, dict[str, Any]], Source]], ...] = (
    (lambda spec: spec.startswith("robot:"), _robot),
    (lambda spec: spec.startswith("ble:"), _ble),
    (lambda spec: "://" not in spec and _is_text(spec), _text),
    (lambda spec: True, _serial),  # noqa: ARG005
)
"""How each kind of source is written, and what makes it; the first that fits is taken."""


def open_source(spec: str, **options: Any) -> Source:
    """The source that ``spec`` names; call its ``open()``.

    ``COM3``, ``/dev/ttyUSB0``, ``socket://host:port``, ``ble:NAME``, ``robot:venue?seed=1`` (the built-in robot in this
    process), or the path of a saved text. ``options`` that a kind of source does not know are left aside: ``baud``,
    ``dtr``, ``rts`` (serial); ``service``, ``notify``, ``write``, ``greeting``, ``own_pipe``, ``scan_timeout_s`` (BLE);
    ``reconnect_s`` (both: how long to seek a robot that went away, serial by default not at all); ``end_is_drop`` (sockets);
    ``clock``, ``sleep``, ``speed_up`` (robot).
    """
    return next(make for fits, make in SOURCES if fits(spec))(spec, options)
