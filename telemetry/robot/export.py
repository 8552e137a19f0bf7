"""What goes onto the robot as files: the reading logic, and the program that holds it beside the computer's."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from telemetry.errors import StorageError
from telemetry.robot.c_function import number
from telemetry.robot.c_reader import c_text, reader_c
from telemetry.robot.order import ReaderOrder
from telemetry.robot.python_reader import reader_py
from telemetry.robot.samples import NAMES, samples_of
from telemetry.text_in_place import write_text

LANGUAGES = ("micropython", "c")
CHECK_PARTS = ("check_rules.py", "check_columns.py", "check_stream.py", "check.py")
_FIRST = re.compile(r"^(class|def) ", re.MULTILINE)
MATTERS = ("dist", "speed", "heading", "refl", "red", "green", "blue", "colour")


@dataclass(frozen=True, slots=True)
class Export:
    """``files``: name -> text. ``fingerprint``: which logic it is."""

    order: ReaderOrder
    language: str
    files: Mapping[str, str]

    @property
    def fingerprint(self) -> str:
        return self.order.fingerprint

    @property
    def sizes(self) -> dict[str, int]:
        """Bytes of each file."""
        return {name: len(text.encode()) for name, text in self.files.items()}

    def save(self, folder: Path, *, force: bool = False) -> list[Path]:
        """Write the files. Raises StorageError where one is there and ``force`` is not given, or cannot be written."""
        paths = [folder / name for name in self.files]
        for path in paths:
            if path.exists() and not force:
                todo = "What you filled in may be in it: choose another folder, or give --force."
                raise StorageError("this file is there already", where=str(path), todo=todo)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for path in paths:
                write_text(path, self.files[path.name])
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise StorageError(f"cannot be written: {reason}", where=str(folder), todo="Choose another place.") from error
        return paths


def export(order: ReaderOrder, language: str = "micropython") -> Export:
    """The files for a robot that runs ``language``, one of LANGUAGES. Raises StrategyError where a part cannot go along."""
    if language == "c":
        return Export(order, language, {**reader_c(order), "check.c": check_c(order)})
    return Export(order, language, {"reader.py": reader_py(order), "check.py": check_py(order)})


def check_c(order: ReaderOrder) -> str:
    """The text of ``check.c``."""
    plan, samples = order.plan, samples_of(order.plan)
    rows = ",\n    ".join("{" + ", ".join(map(number, row)) + "}" for rows in samples.rows for row in rows)
    events = ", ".join(f"{{{row}, {number(event)}}}" for row, event in samples.events) or "{0, 0}"
    masks = [sum(1 << k for k, name in enumerate(MATTERS) if name in layout.channels) for layout in plan.layouts]
    data = [
        f"static const char without_header[] = {c_text(order.columns)};",
        f"static const int made_for[] = {{{', '.join(map(str, masks))}}};",
        f"#define WAITS {_waits(order)}",
        f"#define SAMPLE_COUNT {len(samples.rows)}",
        f"#define EVENT_COUNT {len(samples.events)}",
        f"static const int32_t samples[][10] = {{\n    {rows}\n}};",
        f"static const int32_t events[][2] = {{{events}}};",
    ]
    text = files("telemetry.robot").joinpath("programs/check.c").read_text(encoding="utf-8")
    return text.replace("/*DATA*/", "\n".join(data))


def _waits(order: ReaderOrder) -> int:
    """1: a run without one of the notes cannot be read."""
    return int(bool(order.plan.notes and order.plan.needs & {"note", "legs"}))


def check_py(order: ReaderOrder) -> str:
    """The text of ``check.py``."""
    plan, samples = order.plan, samples_of(order.plan)
    channels = [tuple(name for name in MATTERS if name in layout.channels) for layout in plan.layouts]
    values: dict[str, Any] = {
        "COLUMNS": order.columns,
        "CHANNELS": tuple(channels),
        "WAITS": _waits(order),
        "SAMPLES": samples.rows,
        "EVENTS": samples.events,
    }
    lines = []
    for line in _joined(CHECK_PARTS).splitlines():
        name, equals, _ = line.partition(" = ")
        lines.append(f"{name} = {_literal(values[name])}" if equals and name in values else line)
    assert len(NAMES) == 9
    return "\n".join(lines) + "\n"


def _joined(parts: tuple[str, ...]) -> str:
    """One program of several files; what a later one imports from those before it is left out."""
    folder = files("telemetry.robot").joinpath("programs")
    texts = [folder.joinpath(part).read_text(encoding="utf-8").rstrip("\n") for part in parts]
    return "\n\n\n".join(texts[:1] + [text[begins.start() :] for text in texts[1:] if (begins := _FIRST.search(text))])


def _literal(value: object) -> str:
    if isinstance(value, tuple) and value and isinstance(value[0], tuple):
        return "(\n    " + ",\n    ".join(repr(row) for row in value) + ",\n)"
    return repr(value)
