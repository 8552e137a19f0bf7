"""Touches every object of a file as any program with HDF5 does: what Sidelong never uses must be readable by others too.

Sidelong itself opens the datasets that its document names. xarray and h5py open whatever the file holds: dimension scales,
attributes, references. HDF5 checks the checksum of such an object only when the object is touched.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import h5py

BLOCK = 1 << 16
"""Rows that are read at once."""


def visit(path: Path) -> str:
    """What cannot be read, in words; empty where everything can. In the expendable process, for HDF5 may die of a file."""
    where = "the file itself"
    try:
        with h5py.File(path, "r", locking=False) as file:
            where = "the list of what it holds"
            objects: list[Any] = [file]
            seen = {h5py.h5o.get_info(file.id).addr}
            waiting = [(file, name) for name in file]
            while waiting:
                group, name = waiting.pop()
                where = f"'{group.name.rstrip('/')}/{name}'"
                # A link of another kind leads to an object with a name of its own, or out of this file.
                if not isinstance(group.get(name, getlink=True), h5py.HardLink):
                    continue
                one = group[name]
                if h5py.h5o.get_info(one.id).addr in seen:  # a second name; groups may be in one another
                    continue
                seen.add(h5py.h5o.get_info(one.id).addr)
                objects.append(one)
                if isinstance(objects[-1], h5py.Group):
                    waiting += [(objects[-1], inner) for inner in objects[-1]]
                elif isinstance(objects[-1], h5py.Dataset):
                    _read(objects[-1])
            for one in objects:
                for name in one.attrs:
                    where = f"'{name}' of '{one.name}'"
                    for reference in _references(one.attrs[name]):
                        file[reference]
    except Exception as error:  # the file's fault, whatever it is
        words = str(error).strip("'\"")
        return f"HDF5 cannot read {where} ({words[words.find('(') + 1 :].removesuffix(')')})"
    return ""


def _read(dataset: Any) -> None:
    """All that is stored of it; a dimension without values has a length only, however large."""
    if dataset.shape and dataset.id.get_storage_size():
        # A part of a chunk costs as much as all of it: one larger than HDF5 keeps would be unpacked for every part.
        block = max(BLOCK, dataset.chunks[0] if dataset.chunks else 0)
        for start in range(0, dataset.shape[0], block):
            dataset[start : start + block]


def _references(value: Any) -> Iterator[h5py.Reference]:
    """Those in an attribute, as a dimension scale and its columns hold of each other."""
    if isinstance(value, h5py.Reference):
        yield value
    elif (hasattr(value, "tolist") and value.dtype.kind in "OV") or isinstance(value, tuple):
        for part in value if isinstance(value, tuple) else value.ravel().tolist():
            yield from _references(part)
