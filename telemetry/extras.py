"""What to type to add an optional part of the program: it depends on how the program came onto this computer."""

from __future__ import annotations

import json
import sys
from importlib.metadata import distributions
from pathlib import Path
from shutil import which
from typing import Any
from urllib.parse import unquote, urlsplit

from telemetry.safe_text import as_typed


def how_to_add(extra: str) -> str:
    """One clause with the command. PEP 610's ``direct_url.json`` tells a folder or a file from a package index.

    More than one place may tell of the program: in its own folder its build leaves a second one, which knows no origin.
    """
    written = next(filter(None, (found.read_text("direct_url.json") for found in distributions(name="sidelong"))), "{}")
    try:
        origin: Any = json.loads(written)
    except ValueError:
        origin = {}
    url = urlsplit(str(origin.get("url", ""))) if isinstance(origin, dict) else urlsplit("")
    if url.scheme != "file":
        return f'{pip_here()} install "sidelong[{extra}]"'
    if "dir_info" in origin:
        return f'In Sidelong\'s folder: {pip_here()} install ".[{extra}]"'
    name = unquote(url.path).rpartition("/")[2]
    return f'Beside the file {name}: {pip_here()} install "{name}[{extra}]"'


def pip_here() -> str:
    """The words that start pip for the Python which runs this: its whole path where ``python`` in a shell is another one."""
    found = which("python")
    if found is not None and Path(found).parent == Path(sys.executable).parent:
        return "python -m pip"
    return f"{as_typed(Path(sys.executable))} -m pip"
