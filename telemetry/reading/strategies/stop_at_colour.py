"""For robots that stop by themselves when they see a colour."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "stop-at-colour", "Stop at colour",
    "Would stop the robot at every colour and read it standing; a recording of a robot that drove on cannot tell the rest.",
    (Use("auto"), Use("hold", {"samples": 2}), Use("leg-by-leg"), Use("stop-at"), Use("eliminate")),
)
