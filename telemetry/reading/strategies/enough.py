"""For robots that must act at once."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "enough", "Enough",
    "Adds up evidence in the window of each slot and commits as soon as it is enough; what is left over fills the last.",
    (Use("windows"), Use("weigh"), Use("open"), Use("eliminate")),
)
