"""One formatter for what is wrong with a file: which key of what, what it must be, and what it is."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest
from replay.runs import GOOD, drive, record

from telemetry.errors import RecordingError
from telemetry.recording.library import INDEX, entries
from telemetry.replay.baseline.entry import AgreedReading, BaselineEntry
from telemetry.replay.baseline.file import Agreed, read_agreed, write_agreed
from telemetry.schema import MisfitError, checked


class Part(msgspec.Struct, forbid_unknown_fields=True):
    name: str
    at_cm: float | None = None
    colours: tuple[str, ...] = ()
    here: dict[str, int] = {}


class Whole(msgspec.Struct):
    version: int
    part: tuple[Part, ...] = ()
    both: tuple[int, int] = (0, 0)


@pytest.mark.parametrize(
    ("plain", "words"),
    [
        ([], "it must be a table, not a list"),
        ({}, "'version' is missing"),
        ({"version": "1"}, "'version' must be a whole number, not a text"),
        ({"version": True}, "'version' must be a whole number, not true or false"),
        ({"version": 1, "part": 3}, "'part' must be a list, not a whole number"),
        ({"version": 1, "part": [{"name": "a"}, {}]}, "'name' is missing in part 2"),
        ({"version": 1, "part": [{"name": "a", "nmae": 1}]}, "there is an unknown key 'nmae' in part 1"),
        ({"version": 1, "part": [{"name": "a", "at_cm": "3"}]}, "'at_cm' of part 1 must be a number or nothing, not a text"),
        ({"version": 1, "part": [{"name": "a", "colours": ["x", 2]}]}, "entry 2 of 'colours' of part 1 must be a text"),
        ({"version": 1, "part": [{"name": "a", "here": {"k": "v"}}]}, "must be a whole number, not a text"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(plain: object, words: str) -> None:
    with pytest.raises(MisfitError) as caught:
        checked(plain, Whole)
    assert words in str(caught.value)
    assert "`" not in str(caught.value)
    assert "$" not in str(caught.value)


def test_a_wrong_length_is_said() -> None:
    with pytest.raises(MisfitError, match="'both' must be a list of 2, not 1"):
        checked({"version": 1, "both": [1]}, Whole)


def test_what_fits_comes_back() -> None:
    whole = checked({"version": 1, "part": [{"name": "a", "at_cm": 3}], "more": 1}, Whole)
    assert whole.part == (Part("a", 3.0),)
    deep: object = 1
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(MisfitError):
        checked({"version": deep}, Whole)


def test_agreed_readings_come_back_and_their_damage_is_named(tmp_path: Path) -> None:
    path = tmp_path / "agreed.toml"
    runs = {
        ("hold", "a.h5"): BaselineEntry({"tag 1": AgreedReading("leaf")}, ("rust",)),
        ("hold", "b.h5"): BaselineEntry({}, (), "not applicable"),
    }
    agreed = Agreed({"hold": ("code", "hold(samples=2)")}, ("hold.samples=2",), "c.toml", "", {"hold": "h.toml"}, runs)
    path.write_text(write_agreed(agreed), encoding="utf-8")
    assert read_agreed(path) == agreed
    path.write_text(write_agreed(agreed).replace('"leaf"', "3"), encoding="utf-8")
    with pytest.raises(RecordingError, match=r"is damaged: .*of strategy 1 run 1.* must be a text, not a whole number"):
        read_agreed(path)


@pytest.mark.parametrize("spoilt", [{"rows": "many"}, {"state": "lost"}, {"tags": "x"}, {"simulated": 1}, {"truth": [1]}])
def test_an_entry_of_the_index_that_does_not_fit_is_made_anew(tmp_path: Path, spoilt: dict[str, object]) -> None:
    record(tmp_path / "a.h5", drive(*GOOD))
    (before,) = entries(tmp_path)
    index = json.loads((tmp_path / INDEX).read_text(encoding="utf-8"))
    index["entries"]["a.h5"][-1].update(spoilt)
    (tmp_path / INDEX).write_text(json.dumps(index), encoding="utf-8")
    assert entries(tmp_path) == [before]
