"""For courses where the colours of a group differ."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "checklist", "Checklist",
    "Crosses a colour off its group's list when it is read, so it cannot count twice; what is left fills the last slot.",
    (Use("auto"), Use("leg-by-leg"), Use("open"), Use("hold", {"samples": 2}), Use("eliminate")),
)
