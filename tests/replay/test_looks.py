"""What the palette makes of whole columns is what the stage says sample by sample."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from telemetry.palette_default import default_palette
from telemetry.reading.portable.label import Nearest
from telemetry.reading.portable.moment import Moment
from telemetry.replay.looks import Looks, nearest_labels
from telemetry.replay.scoring.statistics import failures_at_most, runs_needed
from telemetry.sample import MISSING, SampleTable
from telemetry.sources.synthetic.run import built_in_course, simulate
from telemetry.stream.decoder import Decoder

RAW = st.one_of(st.integers(0, 1200), st.just(MISSING), st.integers(60_000, 70_000), st.integers(262_000, 300_000))


@given(st.lists(st.tuples(RAW, RAW, RAW), min_size=1, max_size=40), st.integers(0, 300), st.integers(100, 3000))
def test_columns_and_steps_agree(samples: list[tuple[int, int, int]], level: int, limit: int) -> None:
    palette = [1, 700, 200, 100, 500, 2, 300, 400, 300, 900, 3, 200, 200, 600, 300]
    stage = Nearest(palette, 10, 12, 8, level, limit)  # type: ignore[no-untyped-call]
    moment = Moment()  # type: ignore[no-untyped-call]
    stepped = []
    for moment.red, moment.green, moment.blue in samples:
        stepped.append(stage.step(-1, moment))  # type: ignore[no-untyped-call]
    raw = [np.array(column, dtype=np.int64) for column in zip(*samples, strict=True)]
    assert nearest_labels(stage, raw).tolist() == stepped


def test_on_a_run_and_from_any_row_on() -> None:
    run = simulate("practice", 3)
    decoder, table = Decoder(), SampleTable()
    for chunk in [*decoder.feed(run.data, 0), *decoder.finish()]:
        table.append(chunk)
    sensor = built_in_course().sensors[0].name
    looks = Looks(default_palette(table.ranges), built_in_course(), table)
    whole = looks.labels(table, sensor)
    assert whole is not None
    assert len(whole) == table.rows
    later = looks.labels(table, sensor, 100)
    assert later is not None
    np.testing.assert_array_equal(later, whole[100:])
    seen = {looks.names[label] for label in np.unique(whole) if label > 0}
    assert set(run.truth[:7]) <= seen


def test_how_many_runs_are_needed() -> None:
    # 'Rule of three', Hanley and Lippman-Hand, JAMA 249, 1983: about 3/n; 60 runs for 5 %, exactly 59.
    assert runs_needed(0.05) == 59
    assert abs(runs_needed(0.01) - 300) <= 2
    for rate in (0.1, 0.05, 0.02, 0.01):
        needed = runs_needed(rate)
        enough, too_few = failures_at_most(needed), failures_at_most(needed - 1)
        assert enough is not None
        assert too_few is not None
        assert enough <= rate < too_few
