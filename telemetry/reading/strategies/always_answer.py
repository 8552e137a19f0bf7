"""For tasks that go on with whatever was read."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "always-answer", "Always answer",
    "As 'map and list', and a slot still missing at the end gets an open colour, because the run must go on with something.",
    (
        Use("auto"), Use("windows", {"margin_mm": 40}), Use("decoys"), Use("open"), Use("vote", {"least": 1}),
        Use("eliminate", {"early": 0}), Use("assume"),
    ),
)
