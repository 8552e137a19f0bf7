"""What a misread run comes from: the kinds of verdict."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum


class CauseKind(Enum):
    """What a misread run comes from. How often each is true is in DEVELOPERS.md, 'The verdict'."""

    LOGIC = "the information is there: logic"
    SENSOR = "it is not there: sensor, light or speed"
    STALE = "the palette is stale"
    TRUTH = "is the truth right?"
    NO_PALETTE = "no palette was used"
    NO_CODE = "no code for this colour"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True)
class Verdict:
    """``why``: one or two sentences. ``read``: what most readers make of the run, evidence before others, one colour a slot.

    ``figures``: name -> value, for JSON.
    """

    kind: CauseKind
    why: str
    read: tuple[str | None, ...] = ()
    figures: dict[str, float] = field(default_factory=dict)


def listed(names: list[str] | tuple[str, ...]) -> str:
    """'a', 'b' and 'c'."""
    quoted = [f"'{name}'" for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} and {quoted[-1]}"
