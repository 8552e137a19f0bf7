"""Findings are data; their sentences are made in one place, and are right for one, for none and for many."""

from __future__ import annotations

import ast
import json
import pickle
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from replay.runs import GOOD, TRUTH, drive, row, table_of

from telemetry.findings import Finding, FindingKind
from telemetry.reading.load import load_strategy
from telemetry.replay.case import EVERYTHING, Case
from telemetry.replay.judge import judge
from telemetry.replay.scoring.results import summarise
from telemetry.report.comparison_json import comparison_json
from telemetry.wording import WORDS, counted, listed, plus_minus, sentence, side_by_side

SCHEMAS = Path(__file__).parents[1] / "telemetry" / "report" / "schemas"


def test_every_kind_has_its_words() -> None:
    assert set(WORDS) == set(FindingKind)


@pytest.mark.parametrize(("count", "words"), [(0, "no sample"), (1, "1 sample"), (2, "2 samples"), (2.5, "2.5 samples")])
def test_counted(count: float, words: str) -> None:
    assert counted(count, "sample") == words


def test_what_rounds_to_nothing_has_no_sign() -> None:
    assert [plus_minus(value) for value in (0.04, -0.04, 0.0, 0.06, -1.25)] == ["0.0", "0.0", "0.0", "+0.1", "-1.2"]
    assert listed(["a", "b", "c"]) == "a, b and c"


def test_a_misread_slot_is_data_first() -> None:
    seen = (GOOD[0], (20.0, 20.0, "leaf"))
    (result,), _ = judge(Case("x", table_of(drive(*seen)), row, TRUTH), {"hold": load_strategy("hold")})
    found = result.findings[0]
    assert (found.kind, found.slot, found.cause) == (FindingKind.LOST_IN_STAGE, "b", "hold")
    assert (found.numbers["want"], found.numbers["samples"], found.numbers["from_cm"]) == ("leaf", 1, 20.0)
    assert result.why[0] == "b: leaf seen for 1 sample at 20.0 cm, hold asks for 3 samples"
    assert pickle.loads(pickle.dumps(found)) == found
    assert len({found, Finding(FindingKind.MISSED, "b")}) == 2


def test_one_and_none_read_well() -> None:
    none = Finding(FindingKind.NEVER_REPORTED, "a", "sensor", {"want": "rust", "seen": (("none", 1),)})
    assert sentence(none) == "a: no sample there looked like rust; seen: none, for the one sample there is"
    nothing = Finding(FindingKind.NEVER_REPORTED, "a", "sensor", {"want": "rust", "seen": ()})
    assert sentence(nothing).endswith("seen: nothing at all")
    early = Finding(FindingKind.ENDED_EARLY, numbers={"driven_cm": 12.3, "slots": ("c",)})
    assert sentence(early) == "the drive ended early, after 12 cm by its own distance: c was never passed"


def of(kind: FindingKind, slot: str = "", cause: str = "", **numbers: Any) -> Finding:
    return Finding(kind, slot, cause, numbers)


INSTEAD = {"slots": ("a", "b"), "read": ("leaf", "rust"), "truth": ("rust", "leaf")}


@pytest.mark.parametrize(
    ("findings", "words"),
    [
        ([of(FindingKind.READ_RIGHT_BY, readers=("hold",))], "'hold' reads this recording right"),
        ([of(FindingKind.READ_RIGHT_BY, readers=("hold", "vote"))], "'hold' and 'vote' read this recording right"),
        ([of(FindingKind.READ_OTHERWISE, readers=3, sure=None, **INSTEAD)],
         "3 readers say alike a leaf (not rust), b rust (not leaf)"),
        ([of(FindingKind.READ_OTHERWISE, readers=1, sure=0.995, **INSTEAD)],
         "evidence says a leaf (not rust), b rust (not leaf) and evidence is 100 % sure"),
        ([of(FindingKind.CODE_NEVER_SAID, "a", code="leaf", samples=1, want="rust"),
          of(FindingKind.NO_PALETTE, cause="codes")],
         "over a the sensor says 'leaf' for 1 sample, never rust; colours were told by codes"),
        ([of(FindingKind.FEW_SAMPLES, "a", samples=1), of(FindingKind.FEW_SAMPLES, "b", samples=0),
          of(FindingKind.SHARE_LOST, share=0.25)], "only 1 sample over a, no sample over b, 25 % of the lines were lost"),
        ([of(FindingKind.OTHER_LIGHT, cause="red", factor=1.25), of(FindingKind.OTHER_HEIGHT, factor=0.5)],
         "red is x1.25 of the palette's against the other channels: another light; "
         "levels are x0.50 of the palette's: the sensor hangs higher, or its lamp changed"),
    ],
)  # fmt: skip
def test_a_verdict_is_said_in_one_line(findings: list[Finding], words: str) -> None:
    assert side_by_side(findings) == words


def test_findings_as_json_fit_their_schema() -> None:
    seen = (GOOD[0], (20.0, 20.0, "leaf"))
    case = Case("x", table_of(drive(*seen)), row, TRUTH)
    results, _ = judge(case, {name: load_strategy(name) for name in ("hold", "windows")}, EVERYTHING)
    schema = json.loads((SCHEMAS / "comparison.json").read_text(encoding="utf-8"))
    document = json.loads(comparison_json(results, [summarise("hold", results[:1])]))
    jsonschema.Draft202012Validator(schema).validate(document)
    run = document["runs"][0]
    first = run["findings"][0]
    assert (first["kind"], first["slot"], first["cause"]) == ("lost_in_stage", "b", "hold")
    assert first["numbers"]["samples"] == 1
    assert run["verdict"]["findings"][0]["kind"] in {kind.name.lower() for kind in FindingKind}


def said_in(path):
    """The string constants of a file that are no docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.lineno, node.value


NOT_PLAIN = re.compile(
    r"(?<!there )\b(?:is|are) no (?!longer\b|more\b|easier\b|new\b|such\b|display\b|colour\b)[a-z]"
    r"|\banew\b|millionths|\bgoes without\b|exclude each other|\bto mend\b"
)


def test_texts_are_plain_english():
    """X is not a Y, again, ppm, cannot be combined, fix: what readers stumbled over before."""
    root = Path(__file__).parents[1]
    found = [
        f"{path.relative_to(root)}:{line}: {text}"
        for package in ("telemetry", "gui")
        for path in sorted((root / package).rglob("*.py"))
        for line, text in said_in(path)
        if NOT_PLAIN.search(text)
    ]
    assert not found, "\n".join(found)
