"""A text is written whole or not at all, and nothing is left beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.text_in_place import write_text


def test_the_new_text_takes_the_place_of_the_old(tmp_path: Path) -> None:
    path = tmp_path / "agreed.toml"
    for text in ("rust\n", "größer ➜ 大\n"):
        write_text(path, text)
        assert path.read_bytes() == text.encode()
        assert list(tmp_path.iterdir()) == [path]


def test_where_it_fails_the_old_stays_and_nothing_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "agreed.toml"
    path.write_text("old")
    with pytest.raises(UnicodeEncodeError):
        write_text(path, "new \ud800")

    def full(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device", str(self))

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space left") as error:
        write_text(path, "new")
    assert error.value.filename == str(path), "the name that the user knows"
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_is_named_as_such(tmp_path: Path) -> None:
    (tmp_path / "x").mkdir()
    with pytest.raises(OSError) as error:  # noqa: PT011 - which one differs between systems
        write_text(tmp_path / "x", "text")
    assert error.value.filename == str(tmp_path / "x")
    assert [path.name for path in tmp_path.iterdir()] == ["x"]
