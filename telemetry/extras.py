"""What to type to add an optional part of the program: it depends on how the program came onto this computer."""

from __future__ import annotations

import json
from importlib.metadata import distributions
from typing import Any
from urllib.parse import unquote, urlsplit


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
        return f'python -m pip install "sidelong[{extra}]"'
    if "dir_info" in origin:
        return f'In Sidelong\'s folder: python -m pip install ".[{extra}]"'
    name = unquote(url.path).rpartition("/")[2]
    return f'Beside the file {name}: python -m pip install "{name}[{extra}]"'
