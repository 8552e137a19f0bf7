"""The evaluator: every result once, on any executor, and one run's failure is that run's alone."""

from __future__ import annotations

from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import numpy as np
import pytest

from replay.runs import GOOD, ROW, TRUTH, drive, record
from telemetry.course import parse_course
from telemetry.errors import FaultError, RecordingError, StrategyError, TruthError
from telemetry.palette_default import default_palette
from telemetry.reading.load import load_strategy
from telemetry.recording.load import load
from telemetry.recording.relabel import set_truth
from telemetry.replay import judge as judging
from telemetry.replay.compare import ComparisonRequest, compare
from telemetry.replay.evaluate import EVERYTHING, Ask, Evaluator, Given
from telemetry.replay.evaluate import work as working
from telemetry.replay.judge import judge
from telemetry.replay.scoring.score import Outcome
from telemetry.tuning.evaluate import SettingsSweep, outcomes_on
from telemetry.tuning.runs import saved_runs

SHORT = (GOOD[0], (20.0, 20.5, "leaf"), GOOD[2])
OWN = '''
class Ours:
    "Takes every colour when it begins."
    def __init__(self):
        self.last = 0
    def step(self, label, m):
        new = label if label != self.last else -1
        self.last = label
        return new
'''


@pytest.fixture
def runs(tmp_path):
    folder = tmp_path / "runs"
    folder.mkdir()
    return [record(folder / f"r{i}.h5", drive(*(GOOD if i % 2 else SHORT))) for i in range(4)]


@pytest.fixture
def strategies(tmp_path):
    ours = tmp_path / "ours.py"
    ours.write_text(OWN, encoding="utf-8")
    return {"hold": load_strategy("hold"), "two": load_strategy("hold:hold.samples=2"), "ours": load_strategy(str(ours))}


@pytest.fixture
def steps(monkeypatch):
    """(run, strategies) of every replay that was made in this process."""
    seen = []
    plain = working.read_case

    def counted(case, strategies, **more):
        seen.append((case.name.rpartition("/")[2], tuple(strategies)))
        return plain(case, strategies, **more)

    monkeypatch.setattr(working, "read_case", counted)
    return seen


def test_the_same_as_judging_each_run_by_itself(runs, strategies):
    found = Evaluator().evaluate(runs, strategies, ask=EVERYTHING)
    for one in found:
        results, robot = judge(Given().case(load(one.path)), strategies)
        assert (list(one.results), one.robot) == (results, robot)
    assert [result.outcome for result in found[0].results] == [Outcome.WRONG, Outcome.RIGHT, Outcome.RIGHT]
    assert found[0].results[0].why
    assert found[0].results[0].verdict is not None


@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_any_executor_gives_the_same(runs, strategies, kind):
    here = Evaluator().evaluate(runs, strategies, ask=EVERYTHING)
    pool = ThreadPoolExecutor(2) if kind == "threads" else ProcessPoolExecutor(2, get_context("spawn"))
    with pool as executor:
        assert Evaluator().evaluate(runs, strategies, ask=EVERYTHING, executor=executor) == here
        assert compare(runs, ComparisonRequest(("hold",)), executor=executor) == compare(
            runs, ComparisonRequest(("hold",)), cores=1
        )


def test_a_cluster_that_is_there_gives_the_same(runs, strategies):
    distributed = pytest.importorskip("distributed")
    import dask

    here = Evaluator().evaluate(runs, strategies, ask=EVERYTHING)
    quiet = {"distributed.worker.profile.enabled": False, "distributed.admin.system-monitor.gil.enabled": False}
    quiet |= {"distributed.comm.timeouts.connect": "120s", "distributed.comm.timeouts.tcp": "120s"}  # on a busy computer
    with (
        dask.config.set(quiet),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50, host="127.0.0.1"
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert Evaluator().evaluate(runs, strategies, ask=EVERYTHING, executor=client.get_executor()) == here
        saved, settings = saved_runs(runs).runs, [load_strategy(f"hold:hold.samples={k}") for k in (1, 3)]
        swept, alone = outcomes_on(client.get_executor(), saved, settings), SettingsSweep().outcomes(saved, settings)
        assert all(np.array_equal(getattr(swept, one), getattr(alone, one)) for one in ("counts", "right", "open_slots"))


def test_nothing_is_worked_out_twice(runs, strategies, steps):
    evaluator = Evaluator()
    first = evaluator.evaluate(runs, strategies)
    assert len(steps) == 4
    assert evaluator.evaluate(runs, strategies) == first
    assert evaluator.known(runs[0], "hold", strategies["hold"]) == first[0].results[0]
    assert len(steps) == 4
    # one more strategy: only that one is replayed
    more = evaluator.evaluate(runs, strategies | {"windows": load_strategy("windows")})
    assert steps[4:] == [(path.name, ("windows",)) for path in runs]
    assert [one.results[:3] for one in more] == [one.results for one in first]
    # asked why: replayed again, and then known
    explained = evaluator.evaluate(runs[:1], {"hold": strategies["hold"]}, ask=Ask(why=True))
    assert explained[0].results[0].why
    assert len(steps) == 9
    evaluator.evaluate(runs[:1], {"hold": strategies["hold"]}, ask=Ask(why=True))
    evaluator.evaluate(runs, strategies)
    assert len(steps) == 9


def test_a_verdict_is_known_for_the_strategies_that_were_asked_together(runs, strategies, steps):
    evaluator = Evaluator()
    both = evaluator.evaluate(runs[:1], strategies, ask=EVERYTHING)
    assert evaluator.evaluate(runs[:1], strategies, ask=EVERYTHING) == both
    assert len(steps) == 1
    alone = evaluator.evaluate(runs[:1], {"hold": strategies["hold"]}, ask=EVERYTHING)
    assert len(steps) == 2
    assert alone[0].results[0].verdict != both[0].results[0].verdict


def test_what_a_result_depends_on_makes_it_another_one(runs, strategies, steps):
    evaluator = Evaluator()
    one, hold = runs[:1], {"hold": strategies["hold"]}
    assert evaluator.evaluate(one, hold)[0].results[0].outcome is Outcome.WRONG
    # the labels of the recording
    set_truth(one[0], ("rust", "pink", "sky"))
    assert evaluator.known(one[0], "hold", hold["hold"]) is None
    evaluator.evaluate(one, hold)
    set_truth(one[0], TRUTH)
    evaluator.evaluate(one, hold)
    assert len(steps) == 3
    # course, truth and palette that stand in for its own
    other = parse_course(ROW.replace("width_cm = 2", "width_cm = 3"))
    palette = default_palette({})
    brighter = replace(palette, colours=tuple(replace(c, mean=c.mean * 1.001) for c in palette.colours))
    for given in (Given(course=other), Given(truth="rust,pink,leaf"), Given(palette=palette), Given(palette=brighter)):
        before = len(steps)
        evaluator.evaluate(one, hold, given)
        evaluator.evaluate(one, hold, given)
        assert len(steps) == before + 1
    # a setting, under the same label
    before = len(steps)
    assert evaluator.evaluate(one, {"hold": strategies["two"]})[0].results[0].outcome is Outcome.RIGHT
    assert len(steps) == before + 1


def test_a_teams_changed_file_is_another_strategy(runs, strategies, tmp_path, steps):
    evaluator = Evaluator()
    before = evaluator.evaluate(runs[1:2], {"ours": strategies["ours"]})[0].results[0]
    (tmp_path / "ours.py").write_text(OWN.replace("label if label != self.last else -1", "-1"), encoding="utf-8")
    after = evaluator.evaluate(runs[1:2], {"ours": load_strategy(str(tmp_path / "ours.py"))})[0].results[0]
    assert (before.outcome, after.outcome) == (Outcome.RIGHT, Outcome.WRONG)
    # who has the strategy as it was keeps its results; another process cannot make it any more, and says so
    assert evaluator.evaluate(runs[1:2], {"ours": strategies["ours"]})[0].results[0] == before
    with ProcessPoolExecutor(1, get_context("spawn")) as executor:
        (found,) = Evaluator().evaluate(runs[1:2], strategies, executor=executor)
    assert list(found.failed) == ["ours"]
    assert isinstance(found.failed["ours"], StrategyError)
    assert len(found.results) == 2


def test_one_strategy_that_stumbles_leaves_the_others(runs, strategies, tmp_path):
    bad = tmp_path / "bad.py"
    bad.write_text(OWN.replace("new = label", "new = 1 // (m.d < 1500) and label"), encoding="utf-8")
    (found,) = Evaluator().evaluate(runs[:1], {"bad": load_strategy(str(bad)), **strategies})
    assert [one.strategy for one in found.results] == ["hold", "two", "ours"]
    assert "bad.py, line 7: ZeroDivisionError" in str(found.failed["bad"])
    assert found.problem is None


@pytest.mark.parametrize("threads", [False, True])
def test_one_run_that_fails_leaves_the_others(runs, strategies, threads, monkeypatch, tmp_path):
    (tmp_path / "broken.h5").write_bytes(b"no recording")
    plain = judging.longest_stretch

    record(runs[2], drive(*GOOD, to_cm=35.5))
    short = load(runs[2]).table.rows
    monkeypatch.setattr(judging, "longest_stretch", lambda table: 1 // 0 if table.rows == short else plain(table))
    paths = [tmp_path / "broken.h5", tmp_path / "gone.h5", *runs]
    if threads:
        with ThreadPoolExecutor(2) as executor:
            found = Evaluator().evaluate(paths, strategies, executor=executor)
    else:
        found = Evaluator().evaluate(paths, strategies)
    assert [one.path for one in found] == paths
    assert isinstance(found[0].problem, RecordingError)
    assert found[1].problem is not None
    assert isinstance(found[4].problem, FaultError)
    assert "a fault in Sidelong itself (ZeroDivisionError" in str(found[4].problem)
    assert [len(one.results) for one in found] == [0, 0, 3, 3, 0, 3]


def test_a_truth_that_does_not_fit_is_each_runs_problem(runs, strategies):
    found = Evaluator().evaluate(runs, strategies, Given(truth="rust"))
    assert all(isinstance(one.problem, TruthError) for one in found)


class Dying(Executor):
    """Its first piece of work never comes back."""

    def __init__(self):
        self.pieces = 0

    def submit(self, work, /, *args, **kwargs):
        future: Future = Future()
        self.pieces += 1
        if self.pieces == 1:
            future.set_exception(MemoryError("killed"))
        else:
            future.set_result(work(*args, **kwargs))
        return future


def test_a_worker_that_dies_takes_only_its_own_runs_along(runs, strategies):
    found = Evaluator().evaluate(runs, strategies, executor=Dying())
    assert [one.problem is None for one in found] == [False, True, True, True]
    stopped = ThreadPoolExecutor(1)
    stopped.shutdown()
    assert all(isinstance(one.problem, FaultError) for one in Evaluator().evaluate(runs, strategies, executor=stopped))


def test_progress_and_cancel(runs, strategies, steps):
    told = []
    evaluator = Evaluator()
    found = evaluator.evaluate(runs, strategies, progress=told.append, cancelled=lambda: len(told) == 2)
    assert told == [1, 2]
    assert [one.path for one in found] == runs[:2]
    # what was finished stays known; the rest is worked out when it is asked for
    evaluator.evaluate(runs, strategies, progress=told.append)
    assert told[2:] == [1, 2, 3, 4]
    assert len(steps) == 4


class Slow(Executor):
    """Only its first piece of work ever comes back."""

    def __init__(self):
        self.futures = []

    def submit(self, work, /, *args, **kwargs):
        future: Future = Future()
        if not self.futures:
            future.set_result(work(*args, **kwargs))
        self.futures.append(future)
        return future


def test_who_stops_taking_stops_the_work(runs, strategies):
    slow = Slow()
    each = Evaluator().each(runs, strategies, executor=slow)
    next(each)
    each.close()
    assert [future.cancelled() for future in slow.futures] == [False, True, True, True]
