"""What to type to add an optional part of the program: it depends on how the program came onto this computer."""

from __future__ import annotations

import json
from importlib.metadata import PackageNotFoundError, distribution
from typing import Any
from urllib.parse import unquote, urlsplit


def how_to_add(extra: str) -> str:
    """One clause with the command. PEP 610's ``direct_url.json`` tells a folder or a file from a package index."""
    try:
        written = distribution("sidelong").read_text("direct_url.json")
        origin: Any = json.loads(written) if written else {}
    except (PackageNotFoundError, ValueError):
        origin = {}
    url = urlsplit(str(origin.get("url", ""))) if isinstance(origin, dict) else urlsplit("")
    if url.scheme != "file":
        return f'python -m pip install "sidelong[{extra}]"'
    if "dir_info" in origin:
        return f'In Sidelong\'s folder: python -m pip install ".[{extra}]"'
    name = unquote(url.path).rpartition("/")[2]
    return f'Beside the file {name}: python -m pip install "{name}[{extra}]"'
