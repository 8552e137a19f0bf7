"""A comparison as a test report that build servers read: JUnit XML, common practice without a formal standard."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree as Xml

from telemetry.replay.scoring.results import Result
from telemetry.replay.scoring.score import Outcome
from telemetry.report.table import printable


def junit_xml(results: Sequence[Result], suite: str = "sidelong") -> str:
    """One suite a strategy, one case a run: a failure where it was read wrong, skipped where nothing can be said."""
    root = Xml.Element("testsuites", name=suite)
    for strategy in dict.fromkeys(result.strategy for result in results):
        mine = [result for result in results if result.strategy == strategy]
        failed = sum(result.outcome is Outcome.WRONG for result in mine)
        skipped = sum(not result.counts for result in mine)
        seconds = sum(result.run.run_ms for result in mine) / 1000
        node = Xml.SubElement(
            root, "testsuite", name=printable(strategy), tests=str(len(mine)), failures=str(failed), errors="0",
            skipped=str(skipped), time=f"{seconds:.3f}",
        )  # fmt: skip
        for result in mine:
            _case(node, result)
    Xml.indent(root)
    return '<?xml version="1.0" encoding="utf-8"?>\n' + Xml.tostring(root, encoding="unicode") + "\n"


def _case(suite: Xml.Element, result: Result) -> None:
    case = Xml.SubElement(
        suite, "testcase", name=printable(result.run.recording), classname=printable(result.strategy),
        time=f"{result.run.run_ms / 1000:.3f}",
    )  # fmt: skip
    why = printable("; ".join(result.why))
    if result.outcome is Outcome.WRONG:
        Xml.SubElement(case, "failure", message=why or "read wrong", type="wrong").text = why
    elif not result.counts:
        reason = result.outcome.value if result.outcome else "what really stood there is not known"
        Xml.SubElement(case, "skipped", message=f"{reason}: {why}" if why else reason)
