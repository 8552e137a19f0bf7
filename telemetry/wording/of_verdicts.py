"""What a misread run comes from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from telemetry.findings import Finding, FindingKind
from telemetry.wording.grammar import Numbers, counted, listed, only


def _read_right(one: Finding) -> str:
    readers = one.numbers["readers"]
    assert isinstance(readers, tuple)
    names = listed([str(name) for name in readers] if one.cause == "other settings" else [f"'{name}'" for name in readers])
    return f"{names} {'reads' if len(readers) == 1 else 'read'} this recording right"


def _instead(numbers: Numbers) -> str:
    """'tag 1 rust (not leaf), tag 2 sky (not rust)'."""
    each = zip(numbers["slots"], numbers["read"], numbers["truth"], strict=True)
    return ", ".join(f"{slot} {read} (not {true})" for slot, read, true in each)


def _read_otherwise(one: Finding) -> str:
    n: Numbers = one.numbers
    who = f"{n['readers']} readers say alike" if n["readers"] > 1 else "evidence says"
    sure = "" if n.get("sure") is None else f" and evidence is {100 * n['sure']:.0f} % sure"
    return f"{who} {_instead(n)}{sure}"


def _no_palette(one: Finding) -> str:
    return "colours were told by codes" if one.cause == "codes" else "colours were told by typical values, not this sensor's"


def _code_never_said(one: Finding) -> str:
    n: Numbers = one.numbers
    return f"over {one.slot} the sensor says '{n['code']}' for {counted(n['samples'], 'sample')}, never {n['want']}"


def _other_light(one: Finding) -> str:
    n: Numbers = one.numbers
    return f"{one.cause} is x{n['factor']:.2f} of the palette's against the other channels: another light"


def _columns_exchanged(one: Finding) -> str:
    n: Numbers = one.numbers
    return f"{listed(n['channels'])} fit the palette only in each other's place"


def _other_height(one: Finding) -> str:
    factor = one.numbers["factor"]
    assert isinstance(factor, float)
    way = "higher" if factor < 1.0 else "lower"
    return f"levels are x{factor:.2f} of the palette's: the sensor hangs {way}, or its lamp changed"


def _number(one: Finding, name: str) -> float:
    value = one.numbers[name]
    assert isinstance(value, float | int)
    return value


def _percent(one: Finding) -> str:
    return f"{100 * _number(one, 'share'):.0f} %"


VERDICT_WORDS: Final[Mapping[FindingKind, Callable[[Finding], str]]] = {
    FindingKind.READ_RIGHT_BY: _read_right,
    FindingKind.READ_OTHERWISE: _read_otherwise,
    FindingKind.READERS_DISAGREE: lambda one: f"readers disagree; likeliest is {_instead(one.numbers)}",
    FindingKind.NO_READER: lambda _one: "no reader answers for every slot",
    FindingKind.NO_OWN_CODE: lambda one: (
        f"{one.numbers['want']}, at {one.slot}, has the code '{one.numbers['code']}', which other colours have too"
    ),
    FindingKind.CODE_NEVER_SAID: _code_never_said,
    FindingKind.NOTHING_BUT_NONE: lambda one: f"over {one.slot} the sensor says nothing but none",
    FindingKind.NO_PALETTE: _no_palette,
    FindingKind.FEW_SAMPLES: lambda one: only(_number(one, "samples"), "sample", f"over {one.slot}"),
    FindingKind.FAINT: lambda one: (
        f"{one.slot} departs from the field by only {_number(one, 'deviations'):.1f} deviations of one sample"
    ),
    FindingKind.FULL_SCALE: lambda one: f"{_percent(one)} of the samples over {one.slot} are at full scale",
    FindingKind.OTHER_LIGHT: _other_light,
    FindingKind.COLUMNS_EXCHANGED: _columns_exchanged,
    FindingKind.OTHER_HEIGHT: _other_height,
    FindingKind.SHARE_LOST: lambda one: f"{_percent(one)} of the lines were lost",
}
ENUMERATED: Final = frozenset({
    FindingKind.FEW_SAMPLES, FindingKind.FAINT, FindingKind.FULL_SCALE, FindingKind.NOTHING_BUT_NONE, FindingKind.SHARE_LOST,
})  # fmt: skip
"""Said one after the other with commas."""
NAMES_ITS_SLOT: Final = ENUMERATED | {FindingKind.NO_OWN_CODE, FindingKind.CODE_NEVER_SAID}
"""Their words name the slot themselves."""
