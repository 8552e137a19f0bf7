"""A strategy from what the user typed: a name, a text file or a team's own Python file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import msgspec

from telemetry.errors import StrategyError
from telemetry.given_file import given_text
from telemetry.reading.catalogue import AUTO, AUTO_WHAT, STAGES
from telemetry.reading.own import own_strategy
from telemetry.reading.strategies import STRATEGIES
from telemetry.reading.strategy import Strategy, Use, did_you_mean
from telemetry.schema import CheckedValue, MisfitError, RefusedError, checked
from telemetry.toml_text import TomlError, read_toml

if TYPE_CHECKING:
    from telemetry.toml_written import Said


class StageTable(CheckedValue, dict[str, Any]):
    """``[[stage]]``: which one to use, beside settings of its own, which the catalogue knows."""

    @classmethod
    def read(cls, plain: object) -> Self:
        if not isinstance(plain, Mapping):
            raise RefusedError("it must be a table", "Write [[stage]] above each stage.")
        if not isinstance(plain.get("use"), str):
            raise RefusedError("it does not say which stage to use", 'Write use = "hold".')
        return cls(plain)


class StrategyDocument(msgspec.Struct, forbid_unknown_fields=True):
    """The whole file."""

    name: str | None = None
    title: str | None = None
    what: str = "A strategy from a file."
    stage: tuple[StageTable, ...] = ()


def load_strategy(spec: str) -> Strategy:
    """``hold``, ``mine.toml``, ``mine.py``, each perhaps with settings: ``hold:hold.samples=2,once.gap=3``.

    Raises StrategyError where it does not exist or cannot be built.
    """
    if spec in STRATEGIES:
        return STRATEGIES[spec]
    name, _, words = _split(spec)
    overrides = [word for word in words.split(",") if word.strip()]
    if name in STRATEGIES:
        return STRATEGIES[name].override(*overrides)
    if name.endswith(".toml"):
        return _from_toml(Path(name)).override(*overrides)
    if name.endswith(".py"):
        return own_strategy(Path(name)).override(*overrides)
    raise StrategyError(f"there is no strategy '{name}'", todo=did_you_mean(name, list(STRATEGIES)))


def _split(spec: str) -> tuple[str, str, str]:
    """Name and settings; the colon of a Windows drive is none of ours."""
    left, colon, right = spec.rpartition(":")
    return (left, colon, right) if "=" in right and left else (spec, "", "")


def _from_toml(path: Path) -> Strategy:
    where = str(path)
    try:
        data = read_toml(given_text(path, StrategyError, absent="Check the name."))
    except TomlError as error:
        what = f"is not valid TOML: {error.what}"
        raise StrategyError(what, where=where, todo=error.todo or "Correct it there.") from error
    return parse_strategy(data, where, path.stem)


def parse_strategy(data: Mapping[str, Any], where: str, name: str) -> Strategy:
    """A strategy from the tables of a TOML file; ``name`` where the file gives none."""
    try:
        document = checked(data, StrategyDocument)
    except MisfitError as error:
        raise _refused(error, where) from error
    uses = tuple(Use(stage.pop("use"), stage) for stage in map(dict, document.stage))
    called = name if document.name is None else document.name
    title = called if document.title is None else document.title
    return Strategy(called, title, document.what, uses).checked(where)


def _refused(error: MisfitError, where: str) -> StrategyError:
    """What is wrong, and what to write instead."""
    if error.problem == "unknown":
        todo = did_you_mean(error.key, list(error.known))
        return StrategyError(f"unknown key '{error.key}'", where=where, todo=todo)
    if error.problem == "refused":
        return StrategyError(error.what, where=f"{where}, stage {int(error.path[1]) + 1}", todo=error.todo)
    if error.key == "stage":
        todo = "Write [[stage]] above each stage."
        return StrategyError("'stage' must be a list of tables", where=where, todo=todo)
    return StrategyError(f"'{error.key}' must be a text", where=where, todo=f'Write {error.key} = "...".')


def write_toml(strategy: Strategy, *, explained: bool = False) -> str:
    """A strategy as the text of a file that ``load_strategy`` reads.

    ``explained``: with every setting and a comment about it, so that whatever number is changed there counts.
    """
    from telemetry.toml_written import toml_document

    head = {"name": strategy.name, "title": strategy.title, "what": strategy.what}
    stages = [_explained(use) if explained else {"use": use.stage, **use.settings} for use in strategy.uses]
    return toml_document({**head, "stage": stages})


def _explained(use: Use) -> dict[str, Said]:
    """All settings of a stage; a text that is not set is shown as one that could be."""
    from telemetry.toml_written import Said

    own = None if use.stage == AUTO else STAGES[use.stage]
    out = {"use": Said(use.stage, AUTO_WHAT if own is None else own.what)}
    out |= {key: Said(value, _about(use, key)) for key, value in use.settings.items()}
    left = [one for one in own.settings if one.name not in use.settings] if own is not None else []
    out |= {one.name: Said(one.default, _about(use, one.name)) for one in left if not one.is_text}
    for one in left:
        if one.is_text:
            out[one.name] = Said(None, f'{one.name} = "..."  # {_about(use, one.name)}; not set: take the first # away')
    return out


def _about(use: Use, key: str) -> str:
    setting = STAGES["nearest" if use.stage == AUTO else use.stage].setting(key)
    if setting is None:
        return ""
    span = "" if setting.is_text or setting.unit == "0/1" else f", {setting.low} to {setting.high}"
    unit = "" if setting.is_text or setting.unit in {"number", "0/1"} else f" {setting.unit}"
    return f"{setting.what}{span}{unit}"
