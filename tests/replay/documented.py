"""What the format document says about a comparison's JSON, as a check that raises where a document breaks it."""

import json
import math


def check_document(text):
    """Returns the parsed document."""
    document = json.loads(text, parse_constant=lambda name: (_ for _ in ()).throw(AssertionError(name)))
    assert {"runs", "strategies"} <= document.keys()
    for run in document["runs"]:
        check_run(run)
    for summary in document["strategies"]:
        check_summary(summary, [run for run in document["runs"] if run["strategy"] == summary["strategy"]])
    pairs = [(run["recording"], run["strategy"]) for run in document["runs"]]
    assert len(set(pairs)) == len(pairs)
    return document


def check_run(run):
    assert {
        "recording", "strategy", "outcome", "correct", "readings", "surplus", "errors", "decided_ms", "run_ms", "why",
    } <= run.keys()  # fmt: skip
    assert isinstance(run["recording"], str)
    assert run["outcome"] in {"right", "wrong", "not applicable", "diverges", None}
    if run["outcome"] in {"right", "wrong"}:
        assert run["correct"] is (run["outcome"] == "right")
    assert isinstance(run["why"], str)
    assert isinstance(run["run_ms"], int)
    assert run["run_ms"] >= 0
    assert run["decided_ms"] is None or 0 <= run["decided_ms"] <= run["run_ms"]
    assert set(run["errors"]) == {"missed", "wrong", "repeated", "extra"}
    assert all(isinstance(count, int) and count >= 0 for count in run["errors"].values())
    for reading in run["readings"]:
        assert {"slot", "colour", "how", "confidence", "t_ms", "dist_cm"} <= reading.keys()
        assert reading["how"] in {"read", "inferred", "missing"}
        assert (reading["colour"] is None) == (reading["how"] == "missing")
        assert reading["confidence"] is None or 0 <= reading["confidence"] <= 1
        assert number_or_null(reading["dist_cm"])
        assert reading["t_ms"] is None or isinstance(reading["t_ms"], int)
        if reading["how"] == "missing":
            assert reading["t_ms"] is None
    for surplus in run["surplus"]:
        assert set(surplus) == {"colour", "t_ms", "dist_cm"}
    slots = [reading["slot"] for reading in run["readings"]]
    assert len(set(slots)) == len(slots)


def check_summary(summary, runs):
    assert {"strategy", "runs", "correct", "rate", "wilson95"} <= summary.keys()
    counted = [run for run in runs if run["outcome"] in {"right", "wrong"}]
    assert summary["runs"] == len(counted)
    assert summary["correct"] == sum(run["outcome"] == "right" for run in counted)
    if not counted:
        assert summary["rate"] is None
        assert summary["wilson95"] is None
        return
    assert math.isclose(summary["rate"], summary["correct"] / summary["runs"], abs_tol=1e-6)
    low, high = summary["wilson95"]
    assert 0 <= low <= summary["rate"] + 1e-6
    assert summary["rate"] - 1e-6 <= high <= 1


def number_or_null(value):
    return value is None or (isinstance(value, int | float) and math.isfinite(value))
