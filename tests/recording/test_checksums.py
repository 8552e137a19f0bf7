"""A changed bit is never another value: CRC-32 over the document and over each column."""

from __future__ import annotations

import random
import shutil
import zlib
from pathlib import Path

import numpy as np
import pytest

from recording.streams import stream
from recording.test_recording import write_journal
from telemetry.cli import main
from telemetry.recording.document import packed_document, unpacked_document
from telemetry.recording.hdf5.columns import compress
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta
from telemetry.recording.relabel import rename
from telemetry.recording.verify import verify, verify_folder

HERE = Path(__file__).parent


def test_the_check_value_of_crc_32() -> None:
    """ "123456789" gives CBF43926: the check value that catalogues of CRCs print for CRC-32/ISO-HDLC."""
    assert zlib.crc32(b"123456789") == 0xCBF43926


def test_no_bit_of_a_document_changes_unseen() -> None:
    document = {"layout": 3, "rows": 5, "crc32": {"time": 1}, "meta": {"truth": ["rust", "leaf"], "name": "run"}}
    packed = packed_document(document)
    assert unpacked_document(packed) == document
    for bit in range(len(packed) * 8):
        changed = bytearray(packed)
        changed[bit // 8] ^= 1 << bit % 8
        with pytest.raises((ValueError, zlib.error)):
            unpacked_document(bytes(changed))
    with pytest.raises(ValueError, match="checksum is gone"):
        unpacked_document(packed[:-4])


def columns_and_document(path: Path) -> tuple[dict[str, np.ndarray], dict]:
    file = RecordingFile(path)
    try:
        columns = file.columns()
        assert columns is not None
        return columns, file.document
    finally:
        file.close()


@pytest.mark.parametrize("pieces", [stream(40), stream(40_000)], ids=["short", "of several chunks"])
def test_each_part_has_the_crc_of_what_lies_in_it(tmp_path: Path, pieces: list[bytes]) -> None:
    late = [b"#t/ms,late/m\n", b"9000000,5\n"]
    path, _ = make_recording(write_journal(tmp_path / "run.h5", pieces + late, Meta()))
    file = RecordingFile(path)
    for _, dataset, _ in file.document["columns"]:
        assert file.document["crc32"][dataset] == zlib.crc32(file._array(dataset).tobytes())
    file.close()
    assert verify(path).problem == ""
    rename(path, "other labels")
    assert verify(path).problem == ""


def test_values_that_deflate_cannot_tell_apart_are_told_apart(tmp_path: Path) -> None:
    """Two columns of one Adler-32 (its sums are alike where 1 goes up, 2 down, 1 up in a row): the CRC-32 sees it."""
    path, _ = make_recording(write_journal(tmp_path / "run.h5", stream(60), Meta()))
    columns, document = columns_and_document(path)
    assert columns["dist"].size
    file = RecordingFile(path)
    stored = file._array("refl").copy()
    file.close()
    swapped = stored.view(np.uint8).copy()
    swapped[4] += 1
    swapped[8] -= 2
    swapped[12] += 1
    assert zlib.adler32(swapped.tobytes()) == zlib.adler32(stored.tobytes())
    import h5py

    with h5py.File(path, "r+") as changed:
        dataset = changed["refl"]
        dataset.id.write_direct_chunk((0,), compress(swapped.view(stored.dtype), dataset.shuffle))
    assert "refl" in verify(path).problem
    assert document["layout"] == 3


def test_a_recording_without_crc_is_held_against_its_raw_bytes(tmp_path: Path) -> None:
    for name in ("layout-1.h5", "layout-2.h5"):
        found = verify(Path(shutil.copy(HERE / name, tmp_path / name)))
        assert (found.problem, found.by) == ("", "raw bytes")
    import h5py

    with h5py.File(tmp_path / "layout-2.h5", "r+") as file:
        values = file["dist"][:]
        values[3] += 1
        file["dist"][:] = values
    assert "say otherwise of dist" in verify(tmp_path / "layout-2.h5").problem


def test_the_golden_file_of_this_layout_is_read(tmp_path: Path) -> None:
    columns, document = columns_and_document(HERE / "layout-3.h5")
    assert document["layout"] == 3
    assert "crc32" in document
    assert len(columns["t_us"]) == document["rows"] > 0
    assert verify(HERE / "layout-3.h5") == verify(HERE / "layout-3.h5").__class__(HERE / "layout-3.h5")


def test_a_whole_folder_is_verified(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, _ = make_recording(write_journal(tmp_path / "a.h5", stream(60), Meta()))
    write_journal(tmp_path / "b.h5", stream(30), Meta())
    assert main(["runs", "verify", str(tmp_path)]) == 0
    assert "2 files read to the last bit: 2 whole, 0 damaged" in capsys.readouterr().out
    data = bytearray(path.read_bytes())
    lot = random.Random(4)
    for _ in range(40):
        data[lot.randrange(len(data))] ^= 1
    (tmp_path / "c.h5").write_bytes(data)
    assert main(["runs", "verify", str(tmp_path)]) == 1
    assert "c.h5: damaged" in capsys.readouterr().out
    assert [one.problem == "" for one in verify_folder(tmp_path)] == [True, True, False]


def test_what_only_other_programs_read_is_verified_too(tmp_path: Path) -> None:
    """A bit of the dimension scale, which no part of Sidelong opens and xarray needs."""
    import h5py

    path, _ = make_recording(write_journal(tmp_path / "run.h5", stream(60), Meta()))
    assert verify(path).problem == ""
    with h5py.File(path) as file:
        header = h5py.h5o.get_info(file["sample"].id).addr
    for beyond, bit in ((6, 0), (40, 3)):
        changed = bytearray(path.read_bytes())
        changed[header + beyond] ^= 1 << bit
        spoilt = tmp_path / f"spoilt-{beyond}.h5"
        spoilt.write_bytes(changed)
        with h5py.File(spoilt) as file, pytest.raises(KeyError):
            file["sample"]
        assert "'/sample'" in verify(spoilt).problem
