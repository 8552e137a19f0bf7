"""The usual first improvement."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "hold", "Hold",
    "Believes a colour once it has held for three samples, then waits for none before the next.",
    (Use("auto"), Use("hold", {"samples": 3}), Use("once"), Use("number"), Use("eliminate")),
)
