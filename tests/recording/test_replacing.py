"""Names for new recordings are given away once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from telemetry.errors import StorageError
from telemetry.recording.disk.replacing import free_name


def test_runs_of_the_same_second_get_different_names(tmp_path: Path) -> None:
    with free_name(tmp_path, "run") as first, free_name(tmp_path, "run") as second:
        first.write_bytes(b"1")
        assert second != first
        second.write_bytes(b"2")
    with free_name(tmp_path, "run") as third:
        assert third not in {first, second}
        assert not third.exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["run (2).h5", "run.h5"], "nothing else is left"


def test_many_at_once_and_none_overwrites_another(tmp_path: Path) -> None:
    def keep(number: int) -> Path:
        with free_name(tmp_path, "run") as target:
            assert not target.exists()
            part = target.with_name(target.name + ".part")
            part.write_text(str(number))
            part.replace(target)
            return target

    with ThreadPoolExecutor(8) as pool:
        paths = list(pool.map(keep, range(200)))
    assert len(set(paths)) == 200
    assert [path.read_text() for path in paths] == [str(number) for number in range(200)]


def test_a_folder_that_cannot_be_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="file"), free_name(tmp_path / "file", "run"):
        pass
