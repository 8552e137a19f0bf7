"""The built-in robot: seeded, deterministic, with the physics of a real one. Everything it sends is simulated."""

from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.physics import Physics
from telemetry.sources.synthetic.run import SimulatedRun, built_in_course, simulate, simulate_still

__all__ = ["LEVELS", "Physics", "SimulatedRun", "built_in_course", "simulate", "simulate_still"]
