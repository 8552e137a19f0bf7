"""Whoever opens a recording needs no Sidelong: xarray, netCDF4 and pandas see the same values, names and units."""

from __future__ import annotations

import shutil
import subprocess

import h5py
import netCDF4
import numpy as np
import pytest
import xarray

from recording.streams import stream
from recording.test_recording import write_journal
from telemetry.recording.layout import BLOCK
from telemetry.recording.load import Recording, load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta

UNITS = {"refl": "%", "heading": "degree", "dist": "cm", "red": "1", "robot_time": "ms"}


@pytest.fixture(scope="module", params=[300, 600, BLOCK + 100])
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
        table = file.attrs["events"]
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
    # A file of HDF5 costs about 10 kB whatever it holds; a run of 6 s at 100 samples/s is above that.
    if run.table.rows >= 600:
        assert run.path.stat().st_size < run.summary.bytes
