"""By distance."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "windows", "Windows",
    "Looks only where a slot is, by distance, and takes the colour seen most often there.",
    (Use("auto"), Use("windows"), Use("vote"), Use("eliminate", {"early": 0})),
)
