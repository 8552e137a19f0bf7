"""The levels of difficulty, easiest first: one entry each."""

from __future__ import annotations

from dataclasses import dataclass, replace

from telemetry.sources.synthetic.physics import Physics

_ANY_LIGHT = ("Incandescent", "ID65", "FL3.2", "FL3.5", "FL3.8", "FL3.12", "FL3.15", "HP3", "HP5", "LED-BH1")


@dataclass(frozen=True, slots=True)
class Level:
    """A level: what it is in plain words, and its numbers."""

    what: str
    physics: Physics


_PRACTICE = Physics(decoy_colours=("coal",))
_VENUE = Physics(
    speed_cm_s=45.0, ramp_cm_s2=150.0, height_mm=10.5, height_ripple=0.04, stagger_ms=1.5, gain_spread=0.03,
    lights=_ANY_LIGHT, ambient_max=0.10, field_patch="grey 50", wear_max=0.06, slip_max=0.03, start_off_max_cm=1.0,
    gyro_drift_max_deg_s=0.3, loop_jitter=0.06, stall_chance=0.004,
)
_SLIPPING = replace(
    _VENUE, slip_max=0.12, start_off_max_cm=5.0, gyro_drift_max_deg_s=0.5, dist_uneven_cm=0.1, lost_line_chance=0.002
)
_EXTREME = Physics(
    speed_cm_s=70.0, speed_spread=0.28, ramp_cm_s2=300.0, loop_ms=25.0, loop_jitter=0.08, stall_chance=0.004, height_mm=11.0,
    height_ripple=0.06, stagger_ms=1.5, gain_spread=0.04, lights=_ANY_LIGHT, ambient_max=0.25, ambient_unevenness=0.4,
    field_patch="grey 50", wear_max=0.30, slip_max=0.06, start_off_max_cm=1.5, gyro_drift_max_deg_s=0.5,
    dist_uneven_cm=0.1, lost_line_chance=0.004, missing_value_chance=0.003, read_noise_counts=2.5,
)  # fmt: skip

LEVELS = {
    "practice": Level("home light, slow, everything fine", _PRACTICE),
    "venue": Level("other light, another mat, the sensor higher, faster", _VENUE),
    "slipping": Level("as at the venue, the distance wrong by up to 12 %, the start off by up to 5 cm", _SLIPPING),
    "extreme": Level("colours worn, a quarter of ambient light, 40 samples a second at up to 90 cm/s, gaps", _EXTREME),
}
