"""What 'sidelong stress --json' wrote, read again for a report."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from telemetry.errors import SidelongError, UsageError
from telemetry.given_file import given_text
from telemetry.schema import MisfitError, checked


@dataclass(frozen=True, slots=True)
class FirstFailure:
    """The run and the slot that fail first."""

    recording: str
    slot: str


@dataclass(frozen=True, slots=True)
class SavedMargin:
    """One direction; the fields are those of the document (gui/guide/formats.md)."""

    of: str
    unit: str
    recorded: float | None = None
    right_up_to: float | None = None
    interval95: tuple[float, float] | None = None
    first_failure: FirstFailure | None = None
    searched_to: float | None = None
    what: str = ""


@dataclass(frozen=True, slots=True)
class SavedMargins:
    """Whose they are, and on how many runs they were measured."""

    margins: list[SavedMargin]
    strategy: str = ""
    runs: int = 0


@dataclass(frozen=True, slots=True)
class _Document:
    stress: SavedMargins


def read_margins(path: Path) -> SavedMargins:
    """The margins in a file. Raises UsageError where it does not hold any."""
    todo = "It is made by: sidelong stress RUNS --json FILE"
    try:
        return margins_in(given_text(path, SidelongError))
    except MisfitError as error:
        raise UsageError(f"{path} does not hold margins: {error}", todo=todo) from error
    except (ValueError, RecursionError) as error:
        raise UsageError(f"{path} does not hold margins", todo=todo) from error


def margins_in(document: str) -> SavedMargins:
    """The margins in a document of 'sidelong stress --json'. Raises ValueError, MisfitError where it is none."""
    return checked(json.loads(document), _Document).stress
