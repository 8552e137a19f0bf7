"""What is known about a run besides what the robot sent: where, how and by what it was made, and what really stood there."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from datetime import UTC, datetime
from typing import Any, Final
from uuid import uuid4

from telemetry.errors import RecordingError
from telemetry.given_file import MOST_TEXT_BYTES
from telemetry.recording.document import is_deep, json_bytes
from telemetry.schema import MisfitError, checked

MOST_CHARACTERS: Final = 1 << 20
"""Of one label: more than anybody types."""
MOST_ITEMS: Final = 10_000
"""Tags, or slots of a truth."""
_FILES: Final = frozenset({"course", "palette"})
"""Labels that are whole files; those have their own bound (given_file.py)."""


@dataclass(frozen=True, slots=True)
class Meta:
    """The labels of one run. Everything is text that people typed or programs reported; nothing here is ever executed.

    ``course`` and ``palette`` are the TOML they were read from, word for word. ``truth`` None: not known (yet).
    ``made`` is ISO 8601 with its offset. ``columns`` names the columns of a stream without header, in the form of a
    header (``t/ms,refl/%``). ``simulated``: the bytes came from the built-in robot, not from a real one.
    ``fetched``: the stream was kept by the robot and handed over afterwards, so the times of arrival say nothing.
    ``more`` keeps fields that a later version wrote, so that an older one does not drop them.
    """

    name: str = ""
    course: str = ""
    truth: tuple[str, ...] | None = None
    tags: tuple[str, ...] = ()
    driven_by: str = ""
    robot: str = ""
    sensor_mode: str = ""
    light: str = ""
    height_mm: float | None = None
    battery: str = ""
    remarks: str = ""
    made: str = ""
    source: str = ""
    baud: int | None = None
    columns: str = ""
    checksums: str = ""
    palette: str = ""
    strategy: str = ""
    simulated: bool = False
    fetched: bool = False
    versions: Mapping[str, str] = field(default_factory=dict)
    id: str = ""
    more: Mapping[str, Any] = field(default_factory=dict)

    def begun(self, made: datetime | None = None) -> Meta:
        """The same with ``id``, ``made`` and ``versions`` filled in where they are empty. ``made``: default now."""
        now = (made or datetime.now(UTC)).astimezone().isoformat(timespec="seconds")
        return replace(self, id=self.id or uuid4().hex, made=self.made or now, versions=self.versions or versions())

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON; what is empty is left out."""
        plain = asdict(self)
        more = plain.pop("more")
        truth_known = self.truth is not None
        kept = {key: value for key, value in plain.items() if value not in ("", None, (), {}, False)}
        if truth_known:
            kept["truth"] = list(self.truth or ())
        return dict(more) | kept

    def to_json(self) -> str:
        """One line of JSON, in characters that UTF-8 has."""
        return json_bytes(self.to_dict()).decode()

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any], *, where: str = "") -> Meta:
        """Read what ``to_dict`` wrote. Raises RecordingError where a known field has another type."""
        names = {one.name for one in fields(cls)} - {"more"}
        more = {key: value for key, value in plain.items() if key not in names}
        if is_deep(more):
            raise RecordingError("a label holds lists in lists without end", where=where, todo="The file is not used")
        for key in names & plain.keys():
            _refuse_endless(key, plain[key], where)
        try:
            return replace(checked({key: value for key, value in plain.items() if key in names}, cls), more=more)
        except MisfitError as error:
            what = f"the label '{error.key}' is of the wrong kind ({plain.get(error.key)!r:.60})"
            raise RecordingError(what, where=where, todo="The file is damaged") from error

    @classmethod
    def from_json(cls, text: str, *, where: str = "") -> Meta:
        """Read what ``to_json`` wrote. Raises RecordingError."""
        try:
            plain = json.loads(text)
        except (ValueError, RecursionError) as error:
            raise RecordingError("the labels of this run are not JSON", where=where, todo="The file is damaged") from error
        if not isinstance(plain, dict):
            raise RecordingError("the labels of this run are not a JSON object", where=where, todo="The file is damaged")
        return cls.from_dict(plain, where=where)


def _refuse_endless(key: str, value: Any, where: str) -> None:
    """A list of recordings holds the labels of thousands: what packs well may be megabytes in each."""
    if isinstance(value, str):
        endless = len(value) > (MOST_TEXT_BYTES if key in _FILES else MOST_CHARACTERS)
    else:
        endless = isinstance(value, list | dict) and (
            len(value) > MOST_ITEMS or sum(len(one) for one in value if isinstance(one, str)) > MOST_CHARACTERS
        )
    if endless:
        raise RecordingError(
            f"the label '{key}' is longer than anybody writes ({len(value):,})", where=where, todo="The file is not used"
        )


def versions() -> dict[str, str]:
    """Versions of what made the recording: Sidelong, Python, the system."""
    import platform
    from importlib.metadata import PackageNotFoundError, version

    try:
        own = version("sidelong")
    except PackageNotFoundError:
        own = "unknown"
    return {"sidelong": own, "python": platform.python_version(), "system": f"{platform.system()} {platform.machine()}"}
