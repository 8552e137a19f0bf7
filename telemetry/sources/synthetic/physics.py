"""Everything the built-in robot's world is made of, in one frozen table of numbers. All of it is simulated."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Physics:
    """One robot, its sensor and its field. ``..._max``: each run draws a value, evenly up to this (both ways if signed).

    Light is counted in parts of what a perfect white sends back from ``height_nominal_mm`` under the sensor's own lamp.
    """

    # driving
    speed_cm_s: float = 20.0
    speed_spread: float = 0.1  # part of the speed by which a run may be faster or slower
    ramp_cm_s2: float = 80.0
    turn_deg_s: float = 120.0
    stand_ms: float = 300.0  # before the start, at each change of leg and at the end
    run_out_cm: float = 8.0  # driven on after the last marker of a leg
    # the program's loop and the robot's clock
    loop_ms: float = 10.0
    loop_jitter: float = 0.03  # standard deviation, part of the loop
    stall_chance: float = 0.001  # of a loop that takes three times as long
    # the sensor
    measuring_ms: float = 8.0  # it measures this often, and reports the last finished measurement
    integration_ms: float = 2.0
    code_lag_ms: float = 0.0  # the sensor's own colour comes so much later than its raw channels
    stagger_ms: float = 1.0  # red, green and blue are measured one after the other
    height_nominal_mm: float = 8.0
    height_mm: float = 8.0
    height_ripple: float = 0.02  # standard deviation along the way, part of the height
    spot_half_angle_deg: float = 22.0
    gain_spread: float = 0.02  # of each channel, from sensor to sensor
    black_counts: float = 4.0
    white_counts: float = 900.0  # above black, for a perfect white at the nominal height
    full_scale_counts: float = 1023.0
    read_noise_counts: float = 1.5
    shot_noise: float = 0.15  # standard deviation in counts = this x the root of the counts
    noise_common: float = 0.0  # share of the noise's variance that all channels have in common
    noise_lag1: float = 0.0  # correlation of a channel's noise from one measurement to the next
    refl_noise_pct: float = 0.3
    # ambient light
    lights: tuple[str, ...] = ("LED-BH1",)
    ambient_max: float = 0.02
    ambient_unevenness: float = 0.2  # how much it may change along the way, part of it
    flicker: float = 0.3  # swing of the lamps' light, part of it; daylight has none
    flicker_hz: float = 100.0
    # field and markers
    field_patch: str = "grey 35"  # which published patch the mat is
    decoy_colours: tuple[str, ...] = ()  # drawn from these where the course does not say; none given: the course's own
    wear_max: float = 0.03  # a worn marker is this part field
    # distance and heading
    slip_max: float = 0.01  # the distance is wrong by up to this part, drawn for each leg
    start_off_max_cm: float = 0.3  # the robot stands off its mark by up to this at the start
    start_off_later: float = 0.4  # at later legs it has lined up again: part of that
    dist_step_cm: float = 0.05  # the wheels count in such steps
    dist_uneven_cm: float = 0.03  # standard deviation along the way
    gyro_drift_max_deg_s: float = 0.05
    heading_wobble_deg: float = 0.3  # standard deviation along the way
    # the link
    lost_line_chance: float = 0.0  # that a gap begins at a line
    lost_lines_mean: float = 3.0
    missing_value_chance: float = 0.0
