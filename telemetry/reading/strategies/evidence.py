"""For hard light, fast robots and slipping wheels."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "evidence", "Evidence",
    "Adds up what it saw around every slot, corrects the distance by the signal, decides all slots together at the end.",
    (Use("gather"), Use("decide")),
)
