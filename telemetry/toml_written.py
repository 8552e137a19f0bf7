"""TOML that people read and change, written by tomlkit. What is not printable stands there as an escape.

Agreed readings (``replay/baseline/file.py``) are written line by line: of ten thousand runs tomlkit would take minutes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple, Union

import tomlkit
from tomlkit.items import Item, Key, KeyType, SingleKey, String, StringType, Table, Trivia

from telemetry.safe_text import for_toml

Plain = Union[str, bool, int, float, Sequence["Plain"], Mapping[str, "Plain"], "Said"]


class Said(NamedTuple):
    """A value of a table with words about it behind it; None: no value, the words are a line of their own."""

    value: Plain | None
    words: str


def toml_key(name: str) -> Key:
    """A key that may be any text."""
    quoted = for_toml(name)
    return SingleKey(name) if quoted == f'"{name}"' else SingleKey(name, KeyType.Basic, original=quoted)


def toml_value(plain: Plain, *, lines: bool = False) -> Item:
    """A value; ``lines``: each member of a list stands on a line of its own."""
    if isinstance(plain, str):
        return String(StringType.SLB, plain, for_toml(plain)[1:-1], Trivia())
    if isinstance(plain, list | tuple):
        array = tomlkit.array()
        for one in plain:
            array.append(toml_value(one))
        return array.multiline(lines)
    if isinstance(plain, Mapping):
        table = tomlkit.inline_table()
        for name, value in plain.items():
            table.append(toml_key(name), toml_value(value))
        return table
    return tomlkit.item(plain)


def toml_document(sections: Mapping[str, Plain], *, about: Sequence[str] = ()) -> str:
    """A whole file: values, ``[tables]`` and ``[[lists of tables]]`` by what each section is, below comments ``about`` it.

    In a table a list of lists or of tables has a line for each.
    """
    document = tomlkit.document()
    for line in about:
        document.add(tomlkit.comment(line))
    for name, section in sections.items():
        if isinstance(section, Mapping):
            document.add(toml_key(name), toml_table(section))
        elif isinstance(section, list | tuple) and section and all(isinstance(one, Mapping) for one in section):
            tables = tomlkit.aot()
            for entries in section:
                assert isinstance(entries, Mapping)
                tables.append(toml_table(entries))
            document.add(toml_key(name), tables)
        else:
            document.add(toml_key(name), toml_value(section))
    return tomlkit.dumps(document)


def toml_table(entries: Mapping[str, Plain]) -> Table:
    """A table with these entries."""
    table = tomlkit.table()
    for name, entry in entries.items():
        value, words = entry if isinstance(entry, Said) else Said(entry, "")
        if value is None:
            table.add(tomlkit.comment(words))
            continue
        nested = isinstance(value, list | tuple) and any(isinstance(one, Mapping | list | tuple) for one in value)
        item = toml_value(value, lines=nested)
        table.add(toml_key(name), item.comment(words) if words else item)
    return table
