"""The naive way."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "first-come", "First come",
    "Takes the first colour it sees, then waits for none before the next; whatever flickers counts twice.",
    (Use("auto"), Use("once"), Use("eliminate")),
)
