"""The guard: what was agreed is kept in text, and every difference is named."""

import subprocess
import sys
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replay.runs import GOOD, ROW, TRUTH, drive, record, row, table_of
from telemetry import cli
from telemetry.findings import Finding, FindingKind
from telemetry.reading.load import load_strategy
from telemetry.replay.baseline import check as baseline_check
from telemetry.replay.baseline.entry import AgreedReading, BaselineEntry
from telemetry.replay.baseline.file import Agreed, read_agreed, write_agreed
from telemetry.replay.case import Case
from telemetry.replay.judge import judge

SHORT = (GOOD[0], (20.0, 20.5, "leaf"), GOOD[2])


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "runs").mkdir()
    record(tmp_path / "runs" / "good.h5", drive(*GOOD))
    record(tmp_path / "runs" / "short.h5", drive(*SHORT))
    return tmp_path


def sidelong(*words):
    return cli.main(["guard", *words])


def test_keep_then_check(folder, capsys):
    assert sidelong("runs", "--keep", "agreed.toml", "--strategy", "hold", "--strategy", "windows") == 0
    said = capsys.readouterr().out
    assert "kept 12 readings as agreed: 2 runs, 2 strategies, by the palette of each run, in agreed.toml" in said
    assert "note: 1 result among them misread a run" in said
    assert sidelong("--check", "agreed.toml") == 0
    assert "all 12 readings of 2 runs are as agreed" in capsys.readouterr().out


def test_the_file_reads_well_and_says_how_it_was_read(folder):
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "hold", "--set", "hold.samples=2")
    text = (folder / "agreed.toml").read_text(encoding="utf-8")
    assert 'recording = "runs/short.h5"\nreadings."a" = "rust"\nreadings."b" = "leaf"\n' in text
    data = tomllib.loads(text)
    assert data["settings"] == ["hold.samples=2"]
    assert "hold(samples=2)" in data["strategy"][0]["stages"]


def test_a_difference_is_named_with_its_reason(folder, capsys):
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "windows")
    capsys.readouterr()
    assert sidelong("--check", "agreed.toml", "--set", "vote.least=3") == 1
    out = capsys.readouterr().out
    assert "strategy windows has changed" in out
    assert "windows, runs/short.h5" in out
    assert "b: was leaf, is - (leaf seen for 2 samples at 20.0 to 20.5 cm, vote asks for 3 samples" in out
    assert "1 reading differs from agreed.toml, in 1 replay" in out
    assert "good.h5" not in out


def test_a_colour_beyond_the_slots_is_a_difference(folder, capsys):
    sidelong("runs/good.h5", "--keep", "agreed.toml", "--strategy", "first-come")
    record(folder / "runs" / "good.h5", drive(*GOOD, (34, 35, "pink")))
    assert sidelong("--check", "agreed.toml") == 1
    assert "beyond the slots: was -, is pink" in capsys.readouterr().out


def test_missing_and_new_recordings_are_said(folder, capsys):
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "hold")
    (folder / "runs" / "good.h5").rename(folder / "runs" / "new.h5")
    capsys.readouterr()
    assert sidelong("--check", "agreed.toml") == 1
    assert "the recording's file is gone" in capsys.readouterr().out
    assert sidelong("runs", "--check", "agreed.toml") == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "not agreed on yet: runs/new.h5; --keep takes them in" in out


def test_a_recording_that_broke_is_a_difference(folder, capsys):
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "hold")
    (folder / "runs" / "good.h5").write_bytes(b"gone")
    assert sidelong("--check", "agreed.toml") == 1
    assert "is not read at all" in " ".join(capsys.readouterr().out.split())
    # and a set that cannot be read whole is not kept
    before = (folder / "agreed.toml").read_text()
    assert sidelong("runs", "--keep", "agreed.toml", "--strategy", "hold") == 3
    assert (folder / "agreed.toml").read_text() == before


def test_not_applicable_is_agreed_on_too(folder, capsys):
    no_dist = "".join(line.rsplit(",", 1)[0] + "\n" for line in drive(*GOOD).splitlines())
    record(folder / "runs" / "blind.h5", no_dist)
    sidelong("runs/blind.h5", "--keep", "agreed.toml", "--strategy", "windows")
    assert '"cannot be told" = "not applicable"' in (folder / "agreed.toml").read_text()
    assert sidelong("--check", "agreed.toml") == 0
    record(folder / "runs" / "blind.h5", drive(*GOOD))
    capsys.readouterr()
    assert sidelong("--check", "agreed.toml") == 1
    assert "was not applicable, is readings" in capsys.readouterr().out


def test_what_was_agreed_before_is_kept_beside(folder, capsys):
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "hold")
    first = (folder / "agreed.toml").read_text()
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "hold")
    assert "before" not in capsys.readouterr().out  # the same again replaces nothing
    assert [path.name for path in folder.glob("agreed*")] == ["agreed.toml"]
    assert sidelong("runs", "--keep", "agreed.toml", "--strategy", "windows") == 0
    assert "What was in agreed.toml before is kept as agreed.before-1.toml." in capsys.readouterr().out
    assert (folder / "agreed.before-1.toml").read_text() == first
    assert (folder / "agreed.toml").read_text() != first


def test_paths_start_at_the_files_folder(folder, monkeypatch):
    (folder / "kept").mkdir()
    (folder / "row.toml").write_text(ROW)
    (folder / "ours.toml").write_text('[[stage]]\nuse="auto"\n[[stage]]\nuse="once"\n')
    words = ["--strategy", "ours.toml", "--course", "row.toml"]
    assert sidelong("runs", "--keep", "kept/agreed.toml", *words) == 0
    text = (folder / "kept" / "agreed.toml").read_text()
    assert 'recording = "../runs/good.h5"' in text
    assert 'file = "../ours.toml"' in text
    assert 'course = "../row.toml"' in text
    monkeypatch.chdir(folder / "runs")
    assert sidelong("--check", "../kept/agreed.toml") == 0


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["--keep", "x.toml"], 2, "there is nothing to keep"),
        (["runs"], 2, "one of the arguments --keep --check is required"),
        (["--check", "none.toml"], 3, "none.toml: there is no such file. Make it with"),
        (["runs", "--keep", "no/such/folder/x.toml", "--strategy", "hold"], 5, "cannot be written: no such file"),
    ],
)
def test_what_is_wrong_is_said(folder, capsys, words, code, message):
    assert sidelong(*words) == code
    assert message in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("version = 9", "written by a newer version (format 9)"),
        ("x = 1", "is not a file of agreed readings"),
        ("[", "is not a file of agreed readings"),
        ('version = 1\n[[strategy]]\nname = "hold"', "is damaged"),
        ("version = 1\nstrategy = 3", "is damaged"),
        ('version = 1\n[[strategy]]\nname = "h"\nstages = []\n[[strategy.run]]\nrecording = 1', "is damaged"),
    ],
)
def test_files_that_are_none(folder, capsys, text, message):
    (folder / "bad.toml").write_text(text)
    assert sidelong("--check", "bad.toml") == 3
    assert message in capsys.readouterr().err


WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)

READINGS = st.one_of(
    st.just(AgreedReading(how="missing")),
    st.builds(
        AgreedReading,
        st.text(st.characters(exclude_categories=["Cs"], exclude_characters="(-"), min_size=1),
        st.sampled_from(["read", "inferred", "assumed"]),
        st.none() | st.integers(0, 1000).map(lambda share: share / 1000),
    ),
)


@settings(deadline=None, max_examples=50)
@given(
    st.dictionaries(WORDS, st.lists(WORDS, max_size=3).map(tuple), min_size=1, max_size=2),
    st.dictionaries(WORDS, READINGS, max_size=3),
    st.lists(WORDS, max_size=3).map(tuple),
    WORDS,
)
def test_what_is_written_is_read(strategies, slots, beyond, recording):
    import tempfile
    from pathlib import Path

    runs = {(next(iter(strategies)), recording): BaselineEntry(slots, beyond)}
    agreed = Agreed(strategies, beyond, "", "p.toml", {}, runs)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.toml"
        path.write_text(write_agreed(agreed), encoding="utf-8", newline="\n")
        assert read_agreed(path) == agreed


EVIL = "import pathlib\npathlib.Path('ran').touch()\nclass Evil:\n    def step(self, label, m):\n        return -1\n"


@pytest.mark.parametrize("entry", ['name = "evil"\nfile = "evil.py"', 'name = "evil.py"', 'name = "evil.py:hold.samples=2"',
                                   'name = "evil"\nfile = "sub/../evil.PY"'])  # fmt: skip
def test_code_that_a_file_of_others_names_does_not_run(folder, capsys, entry):
    (folder / "evil.py").write_text(EVIL)
    (folder / "evil.PY").write_text(EVIL)
    run = '[[strategy.run]]\nrecording = "runs/good.h5"\nreadings."a" = "rust"\n'
    (folder / "agreed.txt").write_text(
        f'version = 1\n[[strategy]]\n{entry}\nstages = []\n{run}[[strategy]]\nname = "hold"\nstages = []\n{run}'
    )
    code = sidelong("--check", "agreed.txt")
    said = capsys.readouterr()
    assert not (folder / "ran").exists()
    assert code in {1, 3}
    assert "code runs only where the command names it" in said.err
    assert "hold, runs/good.h5" in said.out or "as agreed" in said.out, "the rest is checked all the same"
    assert sidelong("--check", "agreed.txt", "--strategy", "evil.py") in {0, 1}
    assert (folder / "ran").exists(), "where its user names it, it runs"


def test_broken_mended_and_otherwise_wrong_are_told_apart(folder, capsys):
    strict = ("--set", "vote.least=3")
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "windows")
    capsys.readouterr()
    assert sidelong("--check", "agreed.toml", *strict) == 1
    out = capsys.readouterr().out
    assert "broken: b: was leaf, is -" in out
    assert "in 1 replay: 1 broken" in out
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "windows", *strict)
    capsys.readouterr()
    assert sidelong("--check", "agreed.toml", "--set", "vote.least=2") == 1
    assert "mended: b: was -, is leaf" in capsys.readouterr().out


def entry(words):
    return BaselineEntry({slot: AgreedReading.parse(one) for slot, one in words.items()})


@pytest.mark.parametrize("words", ["leaf", "-", "sky (inferred)", "rust (97.1 %)", "sky (inferred, 60.0 %)"])
def test_what_the_file_says_of_a_reading_is_data(words):
    assert AgreedReading.parse(words).words == words


def test_why_a_reading_differs_is_data_too():
    found = Finding(FindingKind.MISSED, "b", numbers={"want": "leaf"})
    assert baseline_check.Difference("hold", "a.h5", "b", "leaf", "-", (found,)).why == "leaf was missed"
    assert baseline_check.Difference("hold", "a.h5", "", "readings", "diverges", (found,)).why == "b: leaf was missed"


def test_readings_that_are_less_sure_are_named_and_do_not_count():
    names = ("evidence", "a.h5")
    kept = entry({"a": "leaf (97.1 %)", "b": "sky (inferred, 60.0 %)", "c": "rust (99.0 %)", "d": "pink"})
    today = entry({"a": "leaf (80.0 %)", "b": "sky (inferred, 95.5 %)", "c": "rust (97.0 %)", "d": "pink (50.0 %)"})
    found = baseline_check._surer(kept, today, names)
    assert [(one.slot, one.kind) for one in found] == [
        ("a", baseline_check.DifferenceKind.SURE),
        ("b", baseline_check.DifferenceKind.SURE),
    ]
    assert kept.reads_like(today)


def test_two_lines_make_a_pytest(folder):
    """As the help of guard prints them."""
    sidelong("runs", "--keep", "agreed.toml", "--strategy", "windows")
    text = "from telemetry.cli import main\ndef test_readings(): assert main(['guard', '--check', 'agreed.toml']) == 0\n"
    (folder / "test_readings.py").write_text(text)
    words = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "test_readings.py"]
    assert subprocess.run(words, cwd=folder, capture_output=True, check=False).returncode == 0
    (folder / "runs" / "good.h5").unlink()
    record(folder / "runs" / "good.h5", drive(*SHORT[:1]))
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "broken: b: was leaf, is -" in done.stdout


def test_compare_can_fail_where_a_run_is_wrong(folder, capsys):
    words = ["compare", "runs", "--strategy", "windows", "--fail-on-wrong"]
    assert cli.main(words) == 0
    assert cli.main([*words, "--set", "vote.least=3"]) == 1
    assert cli.main([*words[:-1], "--set", "vote.least=3"]) == 0
    assert cli.main(["compare", "runs", "--strategy", "stand-and-look", "--fail-on-wrong"]) == 1
    capsys.readouterr()


@pytest.mark.parametrize(
    ("was", "now", "kind"),
    [("sky", "pink", "OTHER"), ("leaf", "pink", "BROKEN"), ("-", "leaf", "MENDED"), ("sky", "-", "OTHER")],
)
def test_a_reading_that_is_wrong_as_before_is_neither_broken_nor_mended(was, now, kind):
    (result,), _ = judge(Case("x", table_of(drive(*GOOD)), row, TRUTH), {"hold": load_strategy("hold")})
    before, after = AgreedReading.parse(was), AgreedReading.parse(now)
    assert baseline_check._kind(result, "b", before, after) is baseline_check.DifferenceKind[kind]
