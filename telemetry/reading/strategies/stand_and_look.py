"""For robots that stop in front of each marker."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "stand-and-look", "Stand and look",
    "Reads only while the robot stands still and the sensor has had a moment to settle; needs a robot that stops.",
    (Use("auto"), Use("settle", {"ms": 100}), Use("leg-by-leg"), Use("hold", {"samples": 2}), Use("once"), Use("eliminate")),
)
