"""How findings are said, once for command line, window, JSON and report alike."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final

from telemetry.findings import Finding, FindingKind
from telemetry.wording.grammar import counted, figures, listed, only, plus_minus
from telemetry.wording.of_remarks import REMARK_WORDS
from telemetry.wording.of_runs import RUN_WORDS, remedy
from telemetry.wording.of_streams import STREAM_WORDS
from telemetry.wording.of_verdicts import ENUMERATED, NAMES_ITS_SLOT, VERDICT_WORDS

__all__ = ["WORDS", "counted", "figures", "listed", "only", "plus_minus", "remedy", "sentence", "sentences", "side_by_side"]

WORDS: Final[Mapping[FindingKind, Callable[[Finding], str]]] = {
    **RUN_WORDS, **REMARK_WORDS, **VERDICT_WORDS, **STREAM_WORDS,
}  # fmt: skip
"""How each kind is said."""


def sentence(finding: Finding) -> str:
    """In words; that of a slot begins with the slot's name. What is no whole sentence for itself has no full stop."""
    words = WORDS[finding.kind](finding)
    return f"{finding.slot}: {words}" if finding.slot and finding.kind not in NAMES_ITS_SLOT else words


def side_by_side(findings: Sequence[Finding]) -> str:
    """All of them in one line: what is said of single slots with commas between, all else with semicolons."""
    said = ""
    for before, one in zip([None, *findings], findings, strict=False):
        between = ", " if before is not None and {before.kind, one.kind} <= ENUMERATED else "; "
        said += f"{between if before is not None else ''}{sentence(one)}"
    return said


def sentences(findings: Iterable[Finding]) -> tuple[str, ...]:
    """All of them, in their order."""
    return tuple(sentence(one) for one in findings)
