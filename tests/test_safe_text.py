"""Nothing that others wrote reaches a terminal, a spreadsheet, a page or a program as anything but text."""

from __future__ import annotations

import json
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.cli import main
from telemetry.commands import COMMANDS
from telemetry.recording.journal.records import JournalWriter, journal_path
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta
from telemetry.safe_text import for_cell, for_json, for_terminal, for_toml, from_cell, guarded_output, printable

EVIL = "x\x1b[2J\x1b]0;owned\x07\u202egnp\x9b31m\r\b"
COURSE = """[course]
name = "Orchard\\u001b[31m Row\\u202e"
[[slot]]
name = "tag\\u001b]0;1\\u0007"
colours = ["rust", "leaf"]
"""
FEW = settings(max_examples=60, deadline=None)


@FEW
@given(st.text())
def test_a_terminal_gets_nothing_but_print_and_line_ends(text: str) -> None:
    assert all(one in "\n\t" or one.isprintable() for one in for_terminal(text))
    assert printable(text).isprintable()


@FEW
@given(st.text(alphabet=st.characters(exclude_categories=["Cs"])))
def test_what_goes_out_as_data_comes_back_as_it_was(text: str) -> None:
    assert from_cell(for_cell(text)) == text
    assert not for_cell(text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert tomllib.loads(f"a = {for_toml(text)}")["a"] == text
    assert for_toml(text).isprintable()
    assert json.loads(for_json({"a": [text]})) == {"a": [text]}
    assert for_json({"a": [text]})[:-1].isprintable()


PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4), max_leaves=12,
)  # fmt: skip


@FEW
@given(PLAIN, st.sampled_from([1, 2]))
def test_indented_json_is_what_pythons_own_writes(plain: object, indent: int) -> None:
    expected = json.dumps(plain, ensure_ascii=False, indent=indent)
    lines = for_json(plain, indent=indent)[:-1].split("\n")
    assert [json.dumps(line) for line in lines] == [
        json.dumps("".join(one if one.isprintable() else json.dumps(one)[1:-1] for one in line))
        for line in expected.split("\n")
    ]


def test_half_characters_of_a_file_name_do_not_end_it() -> None:
    assert json.loads(for_json("\udcff")) == "\udcff"
    assert json.loads(for_json(["\udcff", "\x1b"], indent=1)) == ["\udcff", "\x1b"]
    assert for_toml("\udcff").isprintable()


def test_whatever_prints_is_guarded(capsys: pytest.CaptureFixture[str]) -> None:
    with guarded_output():
        print(EVIL)
        print(EVIL, file=sys.stderr)
        sys.stdout.writelines([EVIL, "\n"])
    said = capsys.readouterr()
    assert (said.out + said.err).replace("\n", "").isprintable()


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which every name and every text is evil."""
    monkeypatch.chdir(tmp_path)
    evil = EVIL.replace("/", "")
    (tmp_path / "runs").mkdir()
    (tmp_path / "course.toml").write_text(COURSE)
    stream = ["#t/ms,colour,refl/%\n"] + [f"{i * 10},{'rust' if 20 < i < 40 else 'none'},50\n" for i in range(80)]
    stream += [f"!900,{EVIL}\n", f"{EVIL} prompt\n", "1,2\n"]
    (tmp_path / f"{evil}.txt").write_bytes("".join(stream).encode())
    path = tmp_path / "runs" / f"{evil}.h5"
    texts = dict.fromkeys(("name", "driven_by", "remarks", "source", "light"), EVIL)
    meta = Meta(course=COURSE, truth=("rust",), tags=(EVIL,), **texts)
    journal = JournalWriter(journal_path(path), meta.begun(), made_ns=10**18)
    journal.received(10**18, "".join(stream).encode())
    journal.mark(10**18, EVIL)
    journal.end(10**18, EVIL)
    journal.close()
    make_recording(journal.path)
    (tmp_path / "runs" / f"broken{evil}.h5").write_bytes(b"\x89HDF\r\n\x1a\n" + b"x" * 900)
    (tmp_path / f"{evil}.toml").write_text(f'name = {json.dumps(EVIL)}\n[[stage]]\nuse = {json.dumps(EVIL)}\n')
    return tmp_path


def words_of(place: Path) -> dict[str, list[list[str]]]:
    """Every command with something evil in what it reads and in its own words."""
    evil = EVIL.replace("/", "")
    run, text, toml = f"runs/{evil}.h5", f"{evil}.txt", f"{evil}.toml"
    return {
        "demo": [["demo", evil]],
        "ports": [["ports", evil]],
        "robot": [["robot", "--level", evil], ["robot", "--course", "course.toml", "--show-course"],
                  ["robot", "--course", toml]],
        "capture": [["capture", evil, "--for", "0.1", "-o", f"{evil}2.h5"], ["capture", f"{evil}.txt", "-o", run]],
        "session": [["session", evil, "--course", toml]],
        "ingest": [["ingest", text, "-o", f"made{evil}.h5"], ["ingest", evil, "--course", "course.toml"]],
        "runs": [["runs", "list", "runs"], ["runs", "show", run], ["runs", "verify", "runs"],
                 ["runs", "list", "runs", "--json"],
                 ["runs", "tag", evil, run], ["runs", "rename", evil, run], ["runs", "note", evil, run],
                 ["runs", "truth", evil, run], ["runs", "list", evil]],
        "export": [["export", run, "-o", f"{evil}.csv"], ["export", run, "-o", f"{evil}.csv"], ["export", evil],
                   ["export", "--back", f"{evil}.csv"]],
        "compare": [["compare", "runs", "--why"], ["compare", "runs", "--json", "-"], ["compare", evil],
                    ["compare", "runs", "--strategy", toml], ["compare", run, "--course", toml]],
        "report": [["report", "runs", "-o", f"{evil}.html"]],
        "tune": [["tune", "hold", "runs", evil], ["tune", evil, "runs"]],
        "stress": [["stress", "runs", evil], ["stress", evil]],
        "guard": [["guard", "runs", "--keep", "agreed.txt", "--strategy", "hold"], ["guard", run, "--keep", f"{evil}.agreed",
                  "--strategy", "hold"], ["guard", "--check", f"{evil}.agreed"], ["guard", "--check", evil]],
        "strategies": [["strategies", evil], ["strategies", toml]],
        "calibrate": [["calibrate", f"{evil}={text}", f"none={text}", "-o", f"{evil}.palette"]],
        "recheck": [["recheck", evil, f"none={text}"]],
        "emitter": [["emitter", "-o", f"{evil}/x.py"]],
        "reader": [["reader", "hold", "--course", "course.toml", "--like", run, "-o", f"out{evil}"], ["reader", evil]],
        "doctor": [["doctor", evil]],
        "completion": [["completion", evil]],
    }  # fmt: skip


def test_no_command_prints_a_control_character(place: Path, capfd: pytest.CaptureFixture[str]) -> None:
    words = words_of(place)
    for command in COMMANDS:
        # One that is not listed above is tried with evil words and files.
        for each in words.get(command) or [[command, word] for word in (EVIL, "runs", *map(str, place.iterdir()))]:
            main(each)
            said = capfd.readouterr()
            for text in (said.out, said.err):
                bad = {one for one in text if not one.isprintable() and one not in "\n\t"}
                assert not bad, f"{each}: {bad}"
