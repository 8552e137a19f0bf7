"""Whoever opens a recording needs no Sidelong: xarray, netCDF4 and pandas see the same values, names and units."""

from __future__ import annotations

import contextlib
import re
import shutil
import subprocess
import warnings
from pathlib import Path
from typing import Any

import h5py
import netCDF4
import numpy as np
import pytest
import xarray

from recording.streams import stream
from recording.test_recording import write_journal
from telemetry.recording.hdf5.layout import BLOCK
from telemetry.recording.load import Recording, load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta
from telemetry.sources.synthetic.run import built_in_course

UNITS = {"refl": "%", "heading": "degree", "dist": "cm", "red": "1", "robot_time": "ms"}


@pytest.fixture(scope="module", params=[300, 500, BLOCK + 100])
def run(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Recording:
    path = tmp_path_factory.mktemp("open") / "run.h5"
    pieces = [*stream(request.param), b"#t/ms,refl/%,dist/cm\n", b"999990000,,1.5\n", b"1,no\n"]
    make_recording(write_journal(path, pieces, Meta(name="open to all", simulated=True)))
    return load(path)


def test_xarray(run: Recording) -> None:
    with xarray.open_dataset(run.path, engine="h5netcdf") as data:
        assert data.sizes["sample"] == run.table.rows
        assert {"time", "robot_time"} <= set(data["refl"].coords)
        for name, unit in UNITS.items():
            assert data[name].attrs["units"] == unit
            assert data[name].dims == ("sample",)
        for name in ("refl", "red", "heading", "dist", "colour"):
            np.testing.assert_array_equal(data[name].values, run.table.columns[name])
        np.testing.assert_array_equal(data["robot_time"].values * 1000, run.table.columns["t_us"])
        seen = data["time"].values.astype("datetime64[us]").astype(np.int64)
        np.testing.assert_array_equal(seen, run.table.columns["arrival_us"])
        assert data["colour"].attrs["flag_meanings"].split()[1:] == list(run.table.colours)
        assert data.attrs["title"] == "open to all"
        assert "simulated" in data.attrs["source"]
        assert data.attrs["events"].startswith("kind\t")


def test_netcdf4(run: Recording) -> None:
    with netCDF4.Dataset(run.path) as data:
        assert data.dimensions["sample"].size == run.table.rows
        for name, unit in UNITS.items():
            assert data[name].units == unit
            assert data[name].dimensions == ("sample",)
        for name in ("refl", "red", "heading", "dist"):
            values = np.ma.filled(data[name][:].astype(np.float64), np.nan)
            np.testing.assert_array_equal(values, run.table.columns[name])
        when = netCDF4.num2date(data["time"][:2], data["time"].units)
        assert when[0].year == 2025
        assert data.Conventions == "CF-1.11"


def test_pandas(run: Recording) -> None:
    with xarray.open_dataset(run.path, engine="h5netcdf") as data:
        frame = data[["refl", "dist", "colour"]].to_dataframe()
    assert list(frame["dist"]) == pytest.approx(list(run.table.columns["dist"]), abs=0)
    assert len(frame) == run.table.rows


@pytest.mark.skipif(shutil.which("h5dump") is None, reason="the HDF Group's tools are not installed")
def test_h5dump(run: Recording) -> None:
    done = subprocess.run(["h5dump", "-d", "/refl", str(run.path)], capture_output=True, text=True, check=True)
    assert "H5T_STD_I32LE" in done.stdout
    assert f"SIMPLE {{ ( {run.table.rows} )" in done.stdout
    whole = subprocess.run(["h5dump", str(run.path)], capture_output=True, text=True, check=True)
    assert "error" not in whole.stderr


def test_the_notes_and_every_byte_are_there_for_everybody(run: Recording) -> None:
    import io
    import lzma

    import pandas

    with h5py.File(run.path) as file:
        table = file.attrs["events"]  # h5py gives bytes where HDF5 has a fixed length; xarray always gives text
        table = table if isinstance(table, str) else table.decode()
        events = pandas.read_csv(io.StringIO(table), sep="\t")
        assert events["text"][0] == "gate open"
        assert set(events["kind"]) == {"note", "rejected"}
        short = "raw_xz" in file.attrs
        raw = lzma.decompress(file.attrs["raw_xz"].tobytes()) if short else file["raw"][:].tobytes()
        assert short == (run.table.rows < BLOCK)
    assert raw == b"".join(data for _, data in run.raw())


def test_sizes_stay_below_the_text_and_a_third_of_the_samples(run: Recording) -> None:
    with h5py.File(run.path) as file:
        samples = [item for item in file.values() if item.shape == (run.table.rows,) and item.name != "/sample"]
        stored = sum(item.id.get_storage_size() for item in samples)
        plain = sum(item.size * item.dtype.itemsize for item in samples)
    assert stored <= 0.35 * plain
    # A file with named dimensions costs some 8 kB whatever it holds; LAYOUT.md says from how many lines on that pays.
    if run.table.rows >= 500:
        assert run.path.stat().st_size < 0.85 * run.summary.bytes


def test_a_short_recording_has_no_room_that_nothing_uses(tmp_path: Path) -> None:
    """No index of links, no second heap; and so little as it was when this was written, 10,148 bytes."""
    make_recording(write_journal(tmp_path / "run.h5", stream(160), Meta(name="short", course=built_in_course("row").text)))
    data = (tmp_path / "run.h5").read_bytes()
    assert data.count(b"GCOL") == 1
    assert not {mark for mark in (b"FRHP", b"BTHD", b"BTLF") if mark in data}
    assert len(data) < 10_500


def test_names_and_units_are_what_cf_asks_for(tmp_path: Path) -> None:
    """CF 1.11, 2.3 and 3.1. By hand: ``compliance-checker --test=cf:1.11 -c strict FILE`` (6.1.0) found nothing either."""
    header = b"#t/ms,colour.side,odd-name/m,2nd/deg/s,time/V,w\xc3\xa4rme,loop/ms\n"
    make_recording(write_journal(tmp_path / "run.h5", [header, *(b"%d,rust,1,2,3,4,5\n" % i for i in range(20))], Meta()))
    run = load(tmp_path / "run.h5")
    assert {"colour.side", "odd-name", "2nd", "w\u00e4rme"} <= run.table.columns.keys()
    with xarray.open_dataset(run.path, engine="h5netcdf") as data:
        assert all(re.fullmatch("[A-Za-z][A-Za-z0-9_]*", str(name)) for name in data.variables)
        assert data["colour_side"].attrs["long_name"].endswith("sensor side")
        assert data["channel_2nd"].attrs["units"] == "degree/s"
        assert data["channel_time"].attrs["units"] == "V"
        assert data["w_rme"].attrs["long_name"] == "w\u00e4rme"


def test_a_cf_checker_finds_nothing(run: Recording, tmp_path: Path) -> None:
    """The IOOS compliance checker, for the CF conventions 1.11; it wants files to end in .nc."""
    from compliance_checker.runner import CheckSuite

    copy = tmp_path / "run.nc"
    shutil.copy(run.path, copy)
    suite = CheckSuite()
    suite.load_all_available_checkers()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the checker's own packages
        with contextlib.closing(suite.load_dataset(str(copy))) as data:
            groups, errors = suite.run_all(data, ["cf:1.11"])["cf:1.11"]
    assert not errors
    assert [(group.name, group.msgs) for group in groups if group.value[0] != group.value[1]] == []


def test_every_unit_is_one_of_udunits(run: Recording) -> None:
    """cf-units parses them, with the library UDUNITS-2 that the CF conventions refer to."""
    import cf_units

    with xarray.open_dataset(run.path, engine="h5netcdf", decode_times=False) as data:
        units = {name: variable.attrs["units"] for name, variable in data.variables.items() if "units" in variable.attrs}
    assert UNITS.items() <= units.items()
    for name, unit in units.items():
        assert not cf_units.Unit(unit).is_unknown(), (name, unit)
    assert cf_units.Unit(units["dist"]).convert(250.0, "m") == pytest.approx(2.5)


@pytest.mark.parametrize("how", [{"mode": "r"}, {"mode": "r", "locking": False}, {"mode": "r+"}])
def test_a_recording_that_another_library_has_open_is_read(run: Recording, how: dict[str, Any]) -> None:
    with h5py.File(run.path, **how):
        assert load(run.path).table.rows == run.table.rows


def test_one_that_xarray_has_open_is_read(run: Recording) -> None:
    with xarray.open_dataset(run.path, engine="h5netcdf"):
        held = load(run.path)
        assert not held.damage
        assert held.table.rows == run.table.rows
