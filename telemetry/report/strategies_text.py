"""Strategies and stages in plain words."""

from __future__ import annotations

from collections.abc import Mapping

from telemetry.reading.catalogue import AUTO, AUTO_WHAT, GROUPS, STAGES
from telemetry.reading.needs import NEEDS
from telemetry.reading.stage import Setting, Stage
from telemetry.reading.strategies import STRATEGIES
from telemetry.reading.strategy import Strategy
from telemetry.report.table import define, printable, wrap

_NEEDS = {
    "label": "the sensor's colour or its raw channels", "colour": "the sensor's own colour",
    "raw": "raw red, green and blue",
    "dist": "a distance", "speed": "a distance or a speed", "heading": "a heading", "places": "the place of every slot",
    "stop": "a stop", "note": "a note of the robot's program",
}  # fmt: skip
"""What a stage needs of a run, where it is worth saying."""


def overview() -> list[str]:
    """All strategies and all stages."""
    lines = ["Strategies, from the simplest to the best informed"]
    lines += [line for strategy in STRATEGIES.values() for line in define(strategy.name, strategy.what)]
    lines += ["", "Stages that strategies are made of"]
    for what, stages in GROUPS.items():
        lines += ["", *wrap(f"- {what}", " ")]
        lines += define(AUTO, AUTO_WHAT) if STAGES["code"] in stages else []
        lines += [line for stage in stages for line in define(stage.name, stage.what)]
    return [
        *lines, "", "sidelong strategies NAME tells more about one of either.",
        "sidelong strategies NAME --toml > ours.toml makes a file to change and to compare with.",
    ]  # fmt: skip


def describe_auto() -> list[str]:
    """The stage that stands for one of two."""
    return [f"stage {AUTO}", *wrap(AUTO_WHAT, "  "), *wrap("It stands for the stage 'code' or the stage 'nearest'.", "  ")]


def describe_strategy(strategy: Strategy) -> list[str]:
    """One strategy: what it does, its stages in order with every setting, what it needs."""
    lines = [printable(f"{strategy.name}: {strategy.title}"), *wrap(printable(strategy.what), "  "), ""]
    needs: set[str] = set()
    for number, use in enumerate(strategy.uses, 1):
        if use.stage == AUTO:
            lines.append(f"{number:2}. {AUTO}")
            lines += wrap(AUTO_WHAT, "      ")
            given = [one for one in STAGES["nearest"].settings if one.name in use.settings]
            lines += [line for one in given for line in _setting(one, use.settings)]
            needs.add("label")
            continue
        stage = STAGES[use.stage]
        needs |= stage.needs
        lines.append(f"{number:2}. {stage.name}")
        lines += wrap(stage.what, "      ")
        lines += [line for setting in stage.settings for line in _setting(setting, use.settings)]
    if strategy.own is not None:
        lines += wrap(printable(f"then the team's own logic in {strategy.own_file}"), "    ")
    lines += ["", *_needed(needs)]
    return lines


def describe_stage(stage: Stage) -> list[str]:
    """One stage: what it does, its settings with their ranges, what it needs."""
    lines = [f"stage {stage.name}", *wrap(stage.what, "  ")]
    for setting in stage.settings:
        lines += _setting(setting, {}, ranges=True)
    users = [strategy.name for strategy in STRATEGIES.values() if any(use.stage == stage.name for use in strategy.uses)]
    lines += _needed(stage.needs)
    return [*lines, *(wrap(f"used by {', '.join(users)}", "  ") if users else [])]


def _setting(setting: Setting, given: Mapping[str, int | str], *, ranges: bool = False) -> list[str]:
    value = given.get(setting.name, "not set" if setting.is_text else setting.default)
    unit = "" if setting.is_text or setting.unit in {"number", "0/1", setting.name} else f" {setting.unit}"
    unit = " sample" if value == 1 and unit == " samples" else unit
    notes = []
    if not setting.is_text and value != setting.default:
        notes.append(f"default {setting.default}")
    if ranges and not setting.is_text:
        notes.append(f"{setting.low} to {setting.high}")
    beside = f" ({', '.join(notes)})" if notes else ""
    return define(printable(f"{setting.name} = {value}{unit}"), f"{setting.what}{beside}", "      ", 23)


def _needed(needs: set[str] | frozenset[str]) -> list[str]:
    words = [_NEEDS[need] for need in NEEDS if need in needs and need in _NEEDS]
    return wrap(f"needs {', '.join(words)}", "  ") if words else []
