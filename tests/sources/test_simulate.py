"""The built-in robot's world: deterministic, within its physics, and readable by the decoder."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.course import EMPTY, parse_course
from telemetry.course.truth import check_truth
from telemetry.errors import StreamError, UsageError
from telemetry.sample import Chunk
from telemetry.sources.synthetic import LEVELS, Physics, SimulatedRun, built_in_course, simulate, simulate_still
from telemetry.sources.synthetic.sensor import spot_share
from telemetry.sources.synthetic.truth import draw_truth
from telemetry.stream.decoder import Decoder

CALM = Physics(
    read_noise_counts=0.0, shot_noise=0.0, refl_noise_pct=0.0, height_ripple=0.0, ambient_max=0.0, slip_max=0.0,
    gain_spread=0.0, start_off_max_cm=0.0, dist_uneven_cm=0.0, dist_step_cm=0.01, heading_wobble_deg=0.0, wear_max=0.0,
    gyro_drift_max_deg_s=0.0, loop_jitter=0.0, stall_chance=0.0, speed_spread=0.0,
)  # fmt: skip
"""A world without chance: what is left is geometry and light."""


def decoded(run: SimulatedRun) -> Chunk:
    decoder = Decoder()
    chunks = decoder.feed(run.data, 0) + decoder.finish()
    whole = [chunk for chunk in chunks if chunk.rows]
    assert not any(chunk.rejected or chunk.console for chunk in chunks)
    names = whole[0].columns.keys()
    joined = {name: np.concatenate([chunk.columns[name] for chunk in whole]) for name in names}
    notes = tuple(note for chunk in chunks for note in chunk.notes)
    return Chunk(joined, sum(chunk.rows for chunk in whole), whole[-1].colours, notes)


def column(chunk: Chunk, name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.asarray(chunk.columns[name], dtype=np.float64)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(
    "options",
    [
        {}, {"codes_only": True}, {"raw_only": True}, {"two_sensors": True}, {"reversing": True},
        {"number_codes": True, "checksum": True},
    ],
)  # fmt: skip
def test_every_line_is_understood(level: str, options: dict[str, bool]) -> None:
    run = simulate(level, 5, **options)  # type: ignore[arg-type]
    chunk = decoded(run)
    assert chunk.rows == np.count_nonzero(~run.sample_lost)
    assert set(chunk.colours) <= {"none", *run.course.colours}
    assert any("simulated" in note.text for note in chunk.notes)
    if options.get("checksum"):
        assert all(line[-4:-3] == b"*" for line in run.lines)


def test_the_same_words_give_the_same_bytes() -> None:
    assert simulate("extreme", 7).data == simulate("extreme", 7).data
    assert simulate("extreme", 7).data != simulate("extreme", 8).data
    assert simulate("practice", 7).truth == simulate("extreme", 7).truth


def test_an_unknown_level_names_those_there_are() -> None:
    with pytest.raises(UsageError, match="practice, venue, slipping, extreme"):
        simulate("moon")


@given(seed=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_truth_keeps_the_rules_of_its_groups(seed: int) -> None:
    for name in ("row", "two", "back"):
        course = built_in_course(name)
        check_truth(draw_truth(course, np.random.default_rng(seed)), course)


def test_every_arrangement_comes_up_about_equally_often() -> None:
    course = parse_course(
        '[course]\nname="c"\n[[slot]]\nname="a"\ngroup="g"\n[[slot]]\nname="b"\ngroup="g"\n[[slot]]\nname="c"\ngroup="g"\n'
        '[[group]]\nname="g"\ncounts={rust=2, leaf=1}\n'
    )
    rng = np.random.default_rng(1)
    drawn = Counter(draw_truth(course, rng) for _ in range(900))
    assert set(drawn) == {("rust", "rust", "leaf"), ("rust", "leaf", "rust"), ("leaf", "rust", "rust")}
    assert min(drawn.values()) > 240  # each has 300 on average, with a standard deviation of 14


@given(low=st.floats(-1.5, 1.5), width=st.floats(0.0, 3.0))
@settings(max_examples=60, deadline=None)
def test_spot_share_is_the_part_of_a_disc_between_two_lines(low: float, width: float) -> None:
    # Area of a disc between two chords, by counting a fine grid: elementary geometry.
    across = (np.arange(20_000) + 0.5) / 10_000 - 1.0
    chords = np.sqrt(1.0 - across**2)
    counted = chords[(across >= low) & (across <= low + width)].sum() / chords.sum()
    assert float(spot_share(np.array(low), np.array(low + width))) == pytest.approx(counted, abs=2e-3)


def test_the_sensor_sees_the_marker_where_it_stands() -> None:
    truth = ("white", "rust", "leaf", "rust", "leaf", "sky", "pink", "orange", "white")
    run = simulate("practice", 2, physics=CALM, truth=truth)
    chunk = decoded(run)
    dist, refl = column(chunk, "dist"), column(chunk, "refl")
    lane = run.sample_leg == 0
    bright = dist[lane & (refl > 0.5 * refl[lane].max())]
    # Half of the light at both edges: the white tag of 2.4 cm at 9 cm, seen by a sensor 4.5 cm ahead.
    assert (bright.min() + 4.5, bright.max() + 4.5) == pytest.approx((7.8, 10.2), abs=0.3)


def test_light_falls_with_height_and_with_the_square_of_it() -> None:
    def level(height_mm: float) -> float:
        still = simulate_still("white", physics=replace(CALM, height_mm=height_mm))
        return float(np.median(column(decoded(still), "green")) - CALM.black_counts)

    # Light of a small lamp: inverse square law.
    assert level(16.0) == pytest.approx(level(8.0) / 4.0, rel=0.01)


def test_a_channel_saturates_at_its_full_scale() -> None:
    still = simulate_still("white", physics=replace(CALM, height_mm=6.0))
    assert set(column(decoded(still), "red")) == {1023.0}
    assert b"red=4..1023" in still.data


def test_ambient_light_tints_what_is_seen() -> None:
    def ratio(light: str) -> float:
        lit = replace(CALM, lights=(light,), ambient_max=0.5, flicker=0.0, ambient_unevenness=0.0)
        chunk = decoded(simulate_still("white", seed=3, physics=lit))
        return float(np.median(column(chunk, "red")) / np.median(column(chunk, "blue")))

    # Correlated colour temperatures of the published lamps: 2813 K, about 4000 K (CIE 015:2018), 6604 K.
    assert ratio("Incandescent") > ratio("FL3.8") > ratio("ID65")


def test_mains_flicker_folds_down_as_the_sampling_theorem_says() -> None:
    # Light of lamps on a 50 Hz mains varies at 100 Hz; measured at 90 Hz it appears at 10 Hz.
    every = 1000.0 / 90.0
    lamp = replace(CALM, lights=("LED-BH1",), ambient_max=0.5, flicker=0.5, measuring_ms=every, loop_ms=every)
    still = simulate_still("white", seed=3, physics=replace(lamp, ambient_unevenness=0.0), seconds=10.0)
    values = column(decoded(still), "green")
    power = np.abs(np.fft.rfft(values - values.mean()))
    assert np.fft.rfftfreq(len(values), every / 1000.0)[int(np.argmax(power))] == pytest.approx(10.0, abs=0.2)
    daylight = simulate_still("white", seed=3, physics=replace(lamp, lights=("ID65",), ambient_unevenness=0.0))
    assert np.ptp(column(decoded(daylight), "green")) <= 1.0


def test_a_loop_faster_than_the_sensor_repeats_readings() -> None:
    fast = replace(LEVELS["practice"].physics, loop_ms=5.0, measuring_ms=20.0)
    chunk = decoded(simulate("practice", 1, physics=fast))
    raw = np.stack([column(chunk, name) for name in ("red", "green", "blue")])
    repeats = np.mean(np.all(np.diff(raw, axis=1) == 0.0, axis=0))
    assert repeats == pytest.approx(0.75, abs=0.05)  # 20 ms / 5 ms: three of four samples bring nothing new


def test_the_distance_is_wrong_by_the_slip() -> None:
    run = simulate("slipping", 4)
    dist = column(decoded(run), "dist")
    lane = np.flatnonzero(run.sample_leg[~run.sample_lost] == 0)
    pos = run.sample_pos_cm[0][~run.sample_lost][lane]
    moving = np.abs(np.gradient(pos)) > 0.01
    factor = np.polyfit(pos[moving], dist[lane][moving], 1)[0]
    assert factor - 1.0 == pytest.approx(float(run.settings["slip, lane"]), abs=0.005)
    assert abs(factor - 1.0) > 0.005


def test_lost_lines_can_be_counted() -> None:
    losing = replace(LEVELS["extreme"].physics, lost_line_chance=0.05, missing_value_chance=0.02)
    run = simulate("extreme", 1, physics=losing)
    chunk = decoded(run)
    numbers = np.asarray(chunk.columns["n"], dtype=np.int64)
    lost_inside = int(np.sum(np.diff(numbers) - 1))
    assert lost_inside == np.count_nonzero(run.sample_lost[int(numbers[0]) : int(numbers[-1]) + 1])
    assert lost_inside > 0
    assert np.isnan(column(chunk, "red")).any()


def test_a_reversing_leg_counts_down() -> None:
    run = simulate("practice", 1, reversing=True)
    chunk = decoded(run)
    dist, heading = column(chunk, "dist"), column(chunk, "heading")
    back = run.sample_leg == 2
    assert dist[back][0] - dist[back][-1] > 12.0
    assert np.median(heading[back]) == pytest.approx(180.0, abs=3.0)
    sign = run.course.slots[-1]
    looks = column(chunk, "refl")[back][np.abs(run.sample_pos_cm[0][back] - sign.at_cm) < 1.0]
    assert len(looks) >= 8


def test_two_sensors_each_see_their_own() -> None:
    run = simulate("practice", 1, two_sensors=True)
    chunk = decoded(run)
    assert {"colour.flank", "colour.nose", "red.flank", "red.nose"} <= chunk.columns.keys()
    yard = run.sample_leg == 1
    assert np.ptp(column(chunk, "red.nose")[yard]) > 10 * np.ptp(column(chunk, "red.flank")[yard])


def test_codes_flicker_at_edges_of_worn_and_distant_markers() -> None:
    wrong = {"practice": 0, "venue": 0}
    for level in wrong:
        for seed in range(12):
            run = simulate(level, seed)
            chunk = decoded(run)
            code = np.asarray(chunk.columns["colour"], dtype=np.int64)
            for slot, colour in zip(run.course.slots, run.truth, strict=True):
                if slot.at_cm is None or slot.width_cm is None or slot.unseen:
                    continue
                on = (run.sample_leg == slot.leg) & (np.abs(run.sample_pos_cm[0] - slot.at_cm) < slot.width_cm / 2 + 0.5)
                seen = {chunk.colours[value] for value in code[on[~run.sample_lost]].tolist()}
                wrong[level] += len(seen - {colour, "none"})
    assert wrong["venue"] > 0


def test_an_empty_slot_shows_only_the_field() -> None:
    text = '[course]\nname="c"\n[[slot]]\nname="a"\nat_cm=10\nwidth_cm=4\ncolours=["rust"]\nempty_ok=true\n'
    course = parse_course(text)
    run = simulate("practice", 1, course=course, truth=(EMPTY,))
    assert decoded(run).colours == ("none",)


def test_any_course_can_be_driven_also_one_with_orders_only_and_unknown_colours() -> None:
    text = (
        '[course]\nname="c"\n[[leg]]\nname="out"\n[[leg]]\nname="home"\nstarts="heading:180"\n[[leg]]\nname="dock"\nstarts="reset"\n'
        '[[slot]]\nname="a"\nleg="out"\ncolours=["mauve","teal"]\n[[slot]]\nname="b"\nleg="out"\ncolours=["mauve","teal"]\n'
        '[[slot]]\nname="c"\nleg="home"\ncolours=["teal"]\n[[slot]]\nname="d"\nleg="dock"\nat_cm=9\nwidth_cm=3\ncolours=["mauve"]\n'
    )
    course = parse_course(text)
    run = simulate("practice", 1, course=course)
    chunk = decoded(run)
    assert {"mauve", "teal"} >= set(run.truth)
    assert set(chunk.colours) > {"none"}
    dist = column(chunk, "dist")
    dock = run.sample_leg == 2
    assert dist[dock][0] == pytest.approx(0.0, abs=0.5)


def test_runs_of_a_day_share_the_light_and_the_sensor() -> None:
    first, second = simulate("venue", 1, day=3), simulate("venue", 2, day=3)
    assert first.settings["light"] == second.settings["light"] == simulate_still("rust", "venue", 9, day=3).settings["light"]
    assert first.settings["ambient"] == second.settings["ambient"]
    assert first.truth != second.truth
    assert len({simulate("venue", seed).settings["light"] for seed in range(20)}) > 3


def test_stopping_at_each_marker_the_sensor_stands_over_it_and_sends_the_same_distance() -> None:
    run = simulate("practice", 1, stop_ms=500.0)
    chunk = decoded(run)
    dist, heading = column(chunk, "dist"), column(chunk, "heading")
    for slot in run.course.slots:
        if slot.at_cm is None:
            continue
        over = (run.sample_leg == slot.leg) & (np.abs(run.sample_pos_cm[0] - slot.at_cm) < 0.7)
        values, counts = np.unique(dist[over], return_counts=True)
        stood = over & (dist == values[np.argmax(counts)])
        assert counts.max() >= 48  # half a second at 100 samples a second
        assert np.ptp(heading[stood][5:]) <= 0.2


def test_a_late_colour_code_lags_behind_the_raw_channels() -> None:
    prompt, late = (
        decoded(simulate("practice", 1, physics=replace(CALM, code_lag_ms=lag, loop_jitter=0.0))) for lag in (0.0, 80.0)
    )
    first = [int(np.flatnonzero(np.asarray(chunk.columns["colour"]) > 0)[0]) for chunk in (prompt, late)]
    assert first[1] - first[0] == pytest.approx(8, abs=1)  # 80 ms in a loop of 10 ms


def test_a_decoy_that_two_sensors_pass_has_one_colour() -> None:
    text = (
        '[course]\nname="c"\n[[sensor]]\nname="left"\n[[sensor]]\nname="right"\n[[decoy]]\nname="hose"\nat_cm=12\nwidth_cm=6\n'
        '[[slot]]\nname="a"\nsensor="left"\nat_cm=25\nwidth_cm=4\ncolours=["rust", "leaf", "sky", "white", "pink"]\n'
    )
    for seed in range(6):
        run = simulate("practice", seed, course=parse_course(text), physics=CALM)
        chunk = decoded(run)
        near = np.abs(run.sample_pos_cm[0] - 12.0) < 1.0
        left, right = (np.asarray(chunk.columns[f"colour.{side}"], dtype=np.int64)[near] for side in ("left", "right"))
        assert set(left.tolist()) == set(right.tolist())
        assert chunk.colours[int(left[0])] != "none"


def test_a_line_that_gets_too_long_is_said() -> None:
    sensors = "".join(f'[[sensor]]\nname = "sensor number {number}"\n' for number in range(6))
    text = (
        f'[course]\nname = "c"\n{sensors}[[slot]]\nname = "a"\nsensor = "sensor number 1"\nat_cm = 9\ncolours = ["rust"]\n'
    )
    with pytest.raises(StreamError, match="240 are allowed"):
        simulate("practice", 1, course=parse_course(text))


@pytest.mark.bench
def test_bench_simulating(capsys: pytest.CaptureFixture[str]) -> None:
    import time

    long = replace(LEVELS["practice"].physics, loop_ms=4.0)
    simulate("practice", 0, physics=long)
    begin = time.perf_counter()
    samples = sum(len(simulate("practice", seed, physics=long).sample_ms) for seed in range(10))
    took = time.perf_counter() - begin
    with capsys.disabled():
        print(f"\nsimulate: {samples / 10:.0f} samples in {took * 100:.1f} ms a run")
    begin = time.perf_counter()
    lines = [f"{i},{i * 10},rust,{i % 100 / 10:.1f},{i % 900},{i % 800},{i % 700},{i / 10:.1f}" for i in range(samples)]
    plain = time.perf_counter() - begin
    with capsys.disabled():
        print(f"simulate: {took / plain:.1f} times what only printing so many lines takes")
    assert len(lines) == samples
    assert took < 15 * plain
