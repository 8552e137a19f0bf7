"""What a misread run comes from: the kinds of verdict, and what each rests on."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from telemetry.findings import Finding
from telemetry.wording import side_by_side


class CauseKind(Enum):
    """What a misread run comes from. How often each is true is in DEVELOPERS.md, 'The verdict'."""

    LOGIC = "the information is there: logic"
    SENSOR = "it is not there: sensor, light or speed"
    STALE = "the palette is stale"
    COLUMNS = "are two columns swapped?"
    TRUTH = "is the truth right?"
    NO_PALETTE = "no palette was used"
    NO_CODE = "no code for this colour"
    UNCLEAR = "unclear"

    @property
    def words(self) -> str:
        """For people; the values are for scripts, and stay as they are."""
        return _WORDS.get(self, self.value)


_WORDS = {
    CauseKind.STALE: "the palette does not fit",
    CauseKind.LOGIC: "reading logic; the sensor data was good enough",
    CauseKind.SENSOR: "sensor, light or speed; the samples do not contain the answer",
}


@dataclass(frozen=True, slots=True)
class Verdict:
    """``findings``: what it rests on. ``read``: one colour a slot, as most readers say, evidence before others.

    ``figures``: name -> value, for JSON.
    """

    kind: CauseKind
    findings: tuple[Finding, ...]
    read: tuple[str | None, ...] = ()
    figures: dict[str, float] = field(default_factory=dict)

    @property
    def why(self) -> str:
        """The findings in words: one clause, or several side by side, without a full stop."""
        return side_by_side(self.findings)
