"""A strategy: an ordered tuple of stages with their settings, under a name a coach can say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any

from telemetry.errors import StrategyError
from telemetry.reading.catalogue import AUTO, STAGES
from telemetry.reading.stage import Setting, Stage

Value = int | str
_NOTHING: Mapping[str, Value] = MappingProxyType({})


def did_you_mean(word: str, known: list[str]) -> str:
    """What to do about a misspelt word."""
    near = get_close_matches(word, known, n=1, cutoff=0.5)
    return f"Did you mean '{near[0]}'?" if near else f"Known: {', '.join(known)}."


@dataclass(frozen=True, slots=True)
class Use:
    """One stage in a strategy: its name in the catalogue and the settings that differ from its defaults."""

    stage: str
    settings: Mapping[str, Value] = field(default_factory=lambda: _NOTHING)

    @property
    def label(self) -> str:
        """The stage with its settings, as ``sidelong strategies`` prints it."""
        if not self.settings:
            return self.stage
        return f"{self.stage}({', '.join(f'{key}={value}' for key, value in self.settings.items())})"


@dataclass(frozen=True, slots=True)
class Strategy:
    """How to read. ``what``: one sentence for a coach. ``own``: a team's own class instead of stages (see own.py)."""

    name: str
    title: str
    what: str
    uses: tuple[Use, ...]
    own: type[Any] | None = None
    own_file: str = ""
    own_digest: str = ""
    """Of the source of ``own`` as it was loaded; empty without."""

    def checked(self, where: str = "") -> Strategy:
        """Itself, if every stage and setting exists and is in range; else StrategyError. ``where``: the file."""
        place = where or f"strategy '{self.name}'"
        if not self.uses and self.own is None:
            raise StrategyError("a strategy needs at least one stage", where=place, todo='Add a [[stage]].')
        closing = ""
        for number, use in enumerate(self.uses, start=1):
            spot = f"{place}, stage {number} ({use.stage})"
            stage = stage_named(use.stage, spot)
            for name, value in use.settings.items():
                check_value(stage, name, value, spot)
            if stage and stage.closes:
                closing = use.stage
            elif closing:
                raise StrategyError(
                    f"it comes after '{closing}', which decides by itself", where=spot, todo=f"Put '{closing}' at the end."
                )
        return self

    def override(self, *words: str) -> Strategy:
        """The strategy with settings changed, each word like ``hold.samples=2``; for every use of that stage."""
        uses = list(self.uses)
        place = f"strategy '{self.name}'"
        for word in words:
            left, equals, text = word.partition("=")
            name, dot, key = left.strip().rpartition(".")
            if not equals or not dot:
                raise StrategyError(f"'{word}' is not a setting", where=place, todo="Write STAGE.SETTING=VALUE.")
            here = [i for i, use in enumerate(uses) if use.stage == name]
            if not here:
                names = [use.stage for use in uses]
                raise StrategyError(f"it has no stage '{name}'", where=place, todo=did_you_mean(name, names))
            value = _parsed(stage_named(name, word), key, text.strip(), word)
            for i in here:
                uses[i] = replace(uses[i], settings={**uses[i].settings, key: value})
        return replace(self, uses=tuple(uses)).checked() if words else self


def stage_named(name: str, where: str) -> Stage | None:
    """The stage; None for ``auto``, which stands for one of two."""
    if name == AUTO:
        return None
    if name not in STAGES:
        raise StrategyError(f"there is no stage '{name}'", where=where, todo=did_you_mean(name, [AUTO, *STAGES]))
    return STAGES[name]


def _setting(stage: Stage | None, name: str, where: str) -> Setting:
    known = stage.settings if stage else STAGES["nearest"].settings
    for setting in known:
        if setting.name == name:
            return setting
    if not known:
        raise StrategyError(f"it has no settings, so none called '{name}'", where=where, todo="Leave it out.")
    raise StrategyError(f"there is no setting '{name}'", where=where, todo=did_you_mean(name, [s.name for s in known]))


def check_value(stage: Stage | None, name: str, value: object, where: str) -> None:
    """Raises StrategyError where a stage has no such setting, or the value is of the wrong kind or out of range."""
    setting = _setting(stage, name, where)
    if setting.is_text:
        if not isinstance(value, str) or not value.strip():
            raise StrategyError(f"'{name}' must be a text ({setting.what})", where=where, todo=f'Write {name} = "...".')
        return
    if isinstance(value, bool) or not isinstance(value, int):
        raise StrategyError(f"'{name}' must be a whole number in {setting.unit}, not {value!r}", where=where,
                            todo=f"Its default is {setting.default}.")
    if not setting.low <= value <= setting.high:
        raise StrategyError(f"'{name}' is {value}, outside {setting.low} to {setting.high} {setting.unit}", where=where,
                            todo=f"Its default is {setting.default}.")


def _parsed(stage: Stage | None, name: str, text: str, where: str) -> Value:
    if _setting(stage, name, where).is_text:
        return text
    try:
        return int(text)
    except ValueError:
        raise StrategyError(f"'{text}' is not a whole number", where=where, todo="For example: hold.samples=2.") from None
