"""Comparing recordings, from files to tables, JSON and test reports."""

import io
import json
import multiprocessing
import re
from itertools import permutations

import pytest
from junitparser import JUnitXml

from replay.documented import check_document
from replay.runs import GOOD, ROW, TRUTH, drive, record, row, table_of
from telemetry import cli
from telemetry.errors import RecordingError, StrategyError, UsageError
from telemetry.findings import Finding, FindingKind
from telemetry.reading.load import load_strategy, write_toml
from telemetry.reading.needs import NEEDS
from telemetry.replay.case import Case
from telemetry.replay.compare import VERDICTS, ComparisonRequest, compare
from telemetry.replay.judge import judge
from telemetry.replay.scoring.results import ROBOT, StrategySummary, comparable, ranked
from telemetry.replay.scoring.score import Errors, Outcome
from telemetry.replay.sources import chosen_strategies, find_recordings
from telemetry.report.comparison_json import comparison_json
from telemetry.report.comparison_text import comparison_lines
from telemetry.report.junit import junit_xml
from telemetry.report.table import WIDTH, show, width_of
from telemetry.wording import remedy

SHORT = (GOOD[0], (20.0, 20.5, "leaf"), GOOD[2])
OWN = "!210,read,a,rust\n!410,read,b,pink\n!610,read,c,sky\n"


@pytest.fixture
def runs(tmp_path):
    folder = tmp_path / "runs"
    folder.mkdir()
    record(folder / "good.h5", drive(*GOOD) + OWN)
    record(folder / "short.h5", drive(*SHORT) + OWN, simulated=True)
    return folder


def test_results_and_sums(runs):
    got = compare(find_recordings([str(runs)]), ComparisonRequest(("hold", "hold:hold.samples=2", "windows")))
    assert [(one.run.recording.rsplit("/", 1)[-1], one.strategy, one.outcome.value) for one in got.results] == [
        ("good.h5", "hold", "right"),
        ("good.h5", "hold:hold.samples=2", "right"),
        ("good.h5", "windows", "right"),
        ("short.h5", "hold", "wrong"),
        ("short.h5", "hold:hold.samples=2", "right"),
        ("short.h5", "windows", "right"),
    ]
    assert [(one.strategy, one.correct, one.runs, one.errors) for one in got.summaries] == [
        ("hold", 1, 2, Errors(missed=1)),
        ("hold:hold.samples=2", 2, 2, Errors()),
        ("windows", 2, 2, Errors()),
    ]
    # the robot's own readings stand beside them
    assert got.own.strategy == ROBOT
    assert (got.own.correct, got.own.runs, got.own.errors) == (0, 2, Errors(wrong=2))


def test_json_is_as_documented(runs):
    got = compare(find_recordings([str(runs)]), ComparisonRequest())
    document = check_document(comparison_json(got.results, got.summaries, got.robot, got.own))
    assert len(document["runs"]) == 2 * len(document["strategies"])
    hold = next(run for run in document["runs"] if run["strategy"] == "hold" and run["recording"].endswith("short.h5"))
    assert hold["readings"][0] == {
        "slot": "a", "colour": "rust", "how": "read", "confidence": None, "t_ms": 200, "dist_cm": 10.0,
    }  # fmt: skip
    assert hold["why"].startswith("b: leaf seen for 2 samples at 20.0 to 20.5 cm, hold asks for 3 samples")
    assert hold["run_ms"] == 720
    assert document["robot"]["runs"][0]["strategy"] == ROBOT


def test_decided_counts_from_the_first_sample():
    (result,), _ = judge(Case("x", table_of(drive(*GOOD, start_ms=5000)), row, TRUTH), {"hold": load_strategy("hold")})
    assert (result.decided_ms, result.run.run_ms) == (600, 720)
    assert result.taken.slots[0].t_ms == 5200


def test_one_process_or_several_give_the_same(tmp_path):
    for i in range(30):
        record(tmp_path / f"r{i:02}.h5", drive(*(GOOD if i % 3 else SHORT)))
    paths = find_recordings([str(tmp_path)])
    told = []
    one = compare(paths, ComparisonRequest(), cores=1, progress=told.append)
    two = compare(paths, ComparisonRequest(), cores=2)
    assert one == two
    assert told[-1] == 30


def test_ctrl_c_ends_the_workers(tmp_path):
    for i in range(40):
        record(tmp_path / f"r{i:02}.h5", drive(*GOOD))
    told = []

    def stop(done):
        told.append(done)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        compare(find_recordings([str(tmp_path)]), ComparisonRequest(), cores=2, progress=stop)
    assert len(told) == 1
    assert multiprocessing.active_children() == []


def test_many_misread_runs_get_some_verdicts_or_all(tmp_path):
    paths = [record(tmp_path / f"r{i:02}.h5", drive(*SHORT)) for i in range(VERDICTS + 6)]
    some = compare(paths, ComparisonRequest(("hold",)), cores=1)
    assert sum(result.verdict is not None for result in some.results) == VERDICTS
    assert f"{VERDICTS} of the {VERDICTS + 6} runs that some strategy misread" in "\n".join(comparison_lines(some))
    every = compare(paths, ComparisonRequest(("hold",), verdicts=True), cores=1)
    assert all(result.verdict is not None for result in every.results)
    none = compare(paths, ComparisonRequest(("hold",), reasons=False), cores=1)
    assert all(result.verdict is None for result in none.results)


def test_what_a_run_cannot_tell_is_counted_apart():
    no_dist = "".join(line.rsplit(",", 1)[0] + "\n" for line in drive(*GOOD).splitlines())
    (result,), _ = judge(Case("x", table_of(no_dist), row, TRUTH), {"windows": load_strategy("windows")})
    assert result.outcome is Outcome.NOT_APPLICABLE
    assert result.why == ("windows needs a distance",)
    (stops,), _ = judge(Case("x", table_of(drive(*GOOD)), row, TRUTH), {"s": load_strategy("stop-at-colour")})
    assert stops.outcome is Outcome.DIVERGES
    assert re.search(r"s into the run this strategy would have stopped the robot at [\d.]+ cm, which drove on", stops.why[0])
    document = json.loads(comparison_json([result, stops], []))
    assert [run["outcome"] for run in document["runs"]] == ["not applicable", "diverges"]


def test_without_truth_readings_are_listed_and_nothing_is_judged(tmp_path):
    record(tmp_path / "a.h5", drive(*GOOD), truth=None)
    got = compare([tmp_path / "a.h5"], ComparisonRequest(("hold",)))
    assert got.results[0].outcome is None
    assert got.summaries[0].runs == 0
    text = "\n".join(comparison_lines(got))
    assert "a rust, b leaf, c sky" in text
    assert "what really stood there is not known" in " ".join(text.split())
    check_document(comparison_json(got.results, got.summaries))


def test_without_a_course_colours_are_listed_as_they_came(tmp_path):
    record(tmp_path / "a.h5", drive(*GOOD), course="", truth=None)
    got = compare([tmp_path / "a.h5"], ComparisonRequest(("hold", "windows")))
    assert [one.colour for one in got.results[0].taken.surplus] == ["rust", "leaf", "sky"]
    assert got.results[1].outcome is Outcome.NOT_APPLICABLE
    assert "rust, leaf, sky" in "\n".join(comparison_lines(got))
    document = check_document(comparison_json(got.results, got.summaries))
    assert document["runs"][0]["readings"] == []


def test_course_and_truth_may_come_from_the_command_line(tmp_path):
    record(tmp_path / "a.h5", drive(*GOOD), course="", truth=None)
    (tmp_path / "row.toml").write_text(ROW)
    job = ComparisonRequest(("hold",), course=str(tmp_path / "row.toml"), truth="rust,leaf,sky")
    assert compare([tmp_path / "a.h5"], job).results[0].outcome is Outcome.RIGHT
    job = ComparisonRequest(("hold",), course=str(tmp_path / "row.toml"), truth="a=rust,b=pink,c=sky")
    assert compare([tmp_path / "a.h5"], job).results[0].outcome is Outcome.WRONG


def test_several_courses_in_one_call(tmp_path):
    record(tmp_path / "a.h5", drive(*GOOD))
    record(tmp_path / "b.h5", drive(*GOOD), course=ROW.replace('"Row"', '"Other"'))
    text = "\n".join(comparison_lines(compare(find_recordings([str(tmp_path)]), ComparisonRequest(("hold", "windows")))))
    assert "2 runs (1 of Row, 1 of Other)" in text
    assert "right on" in text
    assert "1 of 1" in text


def test_a_broken_recording_does_not_stop_the_others(runs):
    (runs / "broken.h5").write_bytes(b"this is no recording")
    got = compare(find_recordings([str(runs)]), ComparisonRequest(("hold",)))
    assert len(got.results) == 2
    assert "broken.h5" in str(got.problems[0].problem)


def test_tables_fit_and_name_everything(runs):
    got = compare(find_recordings([str(runs)]), ComparisonRequest())
    for everything in (False, True):
        lines = comparison_lines(got, everything=everything)
        assert max(width_of(line) for line in lines) <= WIDTH
    text = "\n".join(comparison_lines(got, everything=True))
    for summary in got.summaries:
        assert summary.strategy in text
    assert "1 of them simulated" in text
    assert "the robot itself" in text
    assert "b: leaf seen for 2 samples" in text


def test_plain_consoles_get_the_same_table(runs):
    got = compare(find_recordings([str(runs)]), ComparisonRequest(("hold",)))
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    show(comparison_lines(got), out)
    out.flush()
    assert b"hold" in out.buffer.getvalue()


def test_names_from_files_cannot_reach_the_console(tmp_path):
    evil = ROW.replace('"Row"', '"Row\\u202egnp"')
    record(tmp_path / "a.h5", drive(*GOOD) + "!1,read,\x1b[2J,rust\n", course=ROW)
    record(tmp_path / "b.h5", drive(*GOOD), course=evil)
    assert "cannot be printed" in str(compare([tmp_path / "b.h5"], ComparisonRequest(("hold",))).problems[0].problem)
    text = "\n".join(comparison_lines(compare([tmp_path / "a.h5"], ComparisonRequest(("hold",)))))
    assert "\x1b" not in text


def test_junit_is_read_by_junitparser(runs, tmp_path):
    got = compare(find_recordings([str(runs)]), ComparisonRequest(("hold", "stop-at-colour")))
    path = tmp_path / "report.xml"
    path.write_text(junit_xml(got.results), encoding="utf-8")
    report = JUnitXml.fromfile(str(path))
    suites = {suite.name: suite for suite in report}
    assert (suites["hold"].tests, suites["hold"].failures, suites["hold"].skipped) == (2, 1, 0)
    assert suites["stop-at-colour"].skipped == 2
    failed = [case for case in suites["hold"] if case.result and case.result[0].type == "wrong"]
    assert failed[0].result[0].message.startswith("b: leaf seen for 2 samples")


@pytest.mark.parametrize(
    ("words", "error", "message"),
    [
        (["nowhere.h5"], RecordingError, "nowhere.h5: there is no such file or folder"),
        (["*.h5x"], RecordingError, "no file is called like this"),
    ],
)
def test_recordings_that_are_not_there(words, error, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(error) as caught:
        find_recordings(words)
    assert message in str(caught.value)


def test_an_empty_folder(tmp_path):
    with pytest.raises(RecordingError, match="no recording in this folder"):
        find_recordings([str(tmp_path)])


def test_each_recording_once_and_patterns_without_a_shell(runs, monkeypatch):
    monkeypatch.chdir(runs)
    assert [path.name for path in find_recordings(["*.h5", "good.h5"])] == ["good.h5", "short.h5"]


def test_settings_go_to_the_strategies_that_have_the_stage():
    chosen = chosen_strategies(["hold", "windows"], ["hold.samples=5"])
    assert chosen["hold"].uses[1].settings["samples"] == 5
    with pytest.raises(StrategyError, match="has no stage 'hlod'"):
        chosen_strategies(["hold"], ["hlod.samples=5"])
    with pytest.raises(StrategyError, match="Did you mean 'samples'"):
        chosen_strategies(["hold"], ["hold.sampels=5"])
    with pytest.raises(UsageError, match="named twice"):
        chosen_strategies(["hold", "hold"], [])


def test_a_file_that_kept_the_name_of_its_model_goes_by_its_own(tmp_path):
    ours = tmp_path / "ours.toml"
    ours.write_text(write_toml(load_strategy("checklist")), encoding="utf-8")
    for words in ([str(ours), "checklist"], ["checklist", str(ours)]):
        assert set(chosen_strategies(words, [])) == {"ours", "checklist"}
    with pytest.raises(UsageError, match="named twice"):
        chosen_strategies([str(ours), str(ours)], [])


def test_the_command(runs, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(runs)
    out = tmp_path / "out.json"
    report = tmp_path / "out.xml"
    words = ["compare", "good.h5", "short.h5", "--strategy", "hold", "--json", str(out), "--junit", str(report)]
    assert cli.main(words) == 0
    document = check_document(out.read_text(encoding="utf-8"))
    assert [run["recording"] for run in document["runs"]] == ["good.h5", "short.h5"]
    assert [one["strategy"] for one in document["strategies"]] == ["hold"]
    assert JUnitXml.fromfile(str(report)).tests == 4  # with the robot's own
    assert "2 runs of Row" in capsys.readouterr().out


def test_the_command_writes_json_to_a_pipe(runs, capsys):
    assert cli.main(["compare", str(runs), "--strategy", "hold", "--json", "-"]) == 0
    check_document(capsys.readouterr().out)


def test_the_command_names_what_it_could_not_read(runs, capsys):
    (runs / "broken.h5").write_bytes(b"x" * 900)
    assert cli.main(["compare", str(runs), "--strategy", "hold"]) == 3
    captured = capsys.readouterr()
    assert "2 runs of Row" in captured.out
    assert "not compared" in captured.err
    assert cli.main(["compare", str(runs / "broken.h5")]) == 3
    assert capsys.readouterr().out == ""


def _sum(name, correct, of):
    return StrategySummary(name, of, correct, None, Errors(missed=of - correct), None, None, 0, 0, 0, ())


def test_one_lucky_run_does_not_outrank_many():
    sums = [_sum("lucky", 1, 1), _sum("good", 28, 30), _sum("nearly", 27, 27), _sum("poor", 9, 30), _sum("none", 0, 0)]
    assert [one.strategy for one in ranked(sums)] == ["nearly", "good", "poor", "lucky", "none"]
    assert [one.strategy for one in comparable(sums)] == ["good", "nearly", "poor"]
    # Even with the fourth run wrong it would be ahead.
    sums = [_sum("all", 2, 4), _sum("three", 3, 3), _sum("two", 2, 2)]
    assert [one.strategy for one in ranked(sums)] == ["three", "all", "two"]
    assert [one.strategy for one in comparable(sums)] == ["all", "three"]
    # Where all were judged on one run, that is what there is.
    assert [one.strategy for one in ranked([_sum("wrong", 0, 1), _sum("right", 1, 1)])] == ["right", "wrong"]
    assert comparable([_sum("none", 0, 0)]) == []


def test_a_strategy_that_most_runs_cannot_judge_is_listed_last_and_compared_with_none(tmp_path):
    no_dist = "".join(line.rsplit(",", 1)[0] + "\n" for line in drive(*GOOD).splitlines())
    record(tmp_path / "whole.h5", drive(*GOOD))
    for i in range(9):
        record(tmp_path / f"no-dist-{i}.h5", no_dist, truth=("rust", "sky", "leaf"))
    few = compare(find_recordings([str(tmp_path)]), ComparisonRequest(("windows", "hold")))
    assert [(one.strategy, one.correct, one.runs) for one in few.summaries] == [("windows", 1, 1), ("hold", 1, 10)]
    page = " ".join("\n".join(comparison_lines(few)).split())
    assert page.index("hold 1 of 10") < page.index("windows 1 of 1")
    assert "fewer runs than of the others judge it, whatever its share: 'windows' (1 run)" in page
    assert "on exactly the same ones" not in page
    enough = compare([tmp_path / "whole.h5"], ComparisonRequest(("windows", "hold")))
    assert "too few runs judge" not in "\n".join(comparison_lines(enough))


def test_one_run_recorded_several_times_is_told(runs):
    record(runs / "again.h5", drive(*GOOD) + OWN)
    got = compare(find_recordings([str(runs)]), ComparisonRequest(("hold", "windows")))
    text = " ".join(" ".join(comparison_lines(got)).split())
    assert "again.h5, good.h5: the same readings at the same times." in text
    assert text.count("the same readings at the same times") == 1


def _tied(name, errors=0, assumed=0, lucky=0, sure=False, correct=9):
    more = {"assumed": assumed, "assumed_right": lucky, "says_how_sure": sure}
    return StrategySummary(name, 10, correct, None, Errors(missed=errors), None, None, 0, 0, 0, (), **more)


def test_of_strategies_right_equally_often_luck_does_not_come_first():
    def order(*sums):
        # However they come, the order is the same.
        found = {tuple(one.strategy for one in ranked(list(way))) for way in permutations(sums)}
        assert len(found) == 1
        return found.pop()

    lucky, plain, sure = _tied("lucky", 1, assumed=2, lucky=2), _tied("plain", 2), _tied("sure", 2, sure=True)
    assert order(lucky, plain, sure) == ("sure", "plain", "lucky")  # 1 error and 2 guesses that were right: as bad as 3
    wrong_guess = _tied("wrong guess", 2, assumed=1)
    assert order(wrong_guess, plain) == ("plain", "wrong guess")
    assert order(wrong_guess, _tied("many", 7)) == ("wrong guess", "many")  # a guess is no worse than an error
    assert order(sure, _tied("better", 5, assumed=5, lucky=5, correct=10)) == ("better", "sure")  # runs right count first


def test_at_a_tie_the_one_that_says_how_sure_it_is_comes_first_and_the_page_says_why(tmp_path):
    for k in range(3):
        record(tmp_path / f"{k}.h5", drive(*GOOD, start_ms=100 * k))
    got = compare(find_recordings([str(tmp_path)]), ComparisonRequest(("always-answer", "windows", "evidence")))
    assert {one.correct for one in got.summaries} == {3}
    assert ranked(got.summaries)[0].strategy == "evidence"
    page = " ".join(" ".join(comparison_lines(got)).split())
    assert "Then comes the one that says how sure it is." in page


def test_guesses_are_counted_and_said(tmp_path):
    record(tmp_path / "a.h5", drive(*GOOD[:2]), truth=("rust", "leaf", "pink"))
    record(tmp_path / "b.h5", drive(*GOOD[:2], start_ms=50), truth=("rust", "leaf", "sky"))
    got = compare(find_recordings([str(tmp_path)]), ComparisonRequest(("always-answer", "evidence", "windows")))
    by_name = {one.strategy: one for one in got.summaries}
    assert (by_name["always-answer"].assumed, by_name["always-answer"].assumed_right) == (2, 1)
    assert by_name["windows"].assumed == 0
    assert (by_name["windows"].says_how_sure, by_name["evidence"].says_how_sure) == (False, True)


def test_what_does_not_apply_says_what_to_do_and_names_strategies_together(tmp_path):
    no_dist = "".join(line.rsplit(",", 1)[0] + "\n" for line in drive(*GOOD).splitlines())
    record(tmp_path / "a.h5", no_dist)
    request = ComparisonRequest(("windows", "map-and-list", "hold", "stand-and-look"))
    page = " ".join(" ".join(comparison_lines(compare([tmp_path / "a.h5"], request))).split())
    assert "windows and map-and-list: not applicable to 1 run: needs a distance. Let the robot send dist (" in page
    assert "stand-and-look: not applicable to 1 run: needs a distance or a speed. Let the robot send dist or speed" in page


def test_without_a_course_the_course_is_asked_for(tmp_path):
    record(tmp_path / "a.h5", drive(*GOOD), course="", truth=None)
    page = " ".join(" ".join(comparison_lines(compare([tmp_path / "a.h5"], ComparisonRequest()))).split())
    assert "stand-and-look" in page
    assert "needs a course, which says what stands where. Describe the course in a file" in page
    assert "does not say where 1 is" not in page
    assert "29 markers" not in page


@pytest.mark.parametrize("need", sorted(NEEDS))
def test_each_need_has_its_remedy(need):
    assert remedy(Finding(FindingKind.LACKS, cause=need))
