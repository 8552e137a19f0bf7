"""gui/guide/formats.md: every example in it is what the program takes and writes; its schemas hold what the commands print.

JSON Schema draft 2020-12 is checked by the library jsonschema.
"""

import json
import re
import shutil
from pathlib import Path

import jsonschema
import pytest

from telemetry import errors
from telemetry.cli import main
from telemetry.course import parse_course, parse_truth
from telemetry.course.model import LegStart
from telemetry.recording.load import load
from telemetry.replay.compare import ComparisonRequest, compare
from telemetry.sample import QUANTITIES
from telemetry.sources.synthetic.run import simulate
from telemetry.stream.columns import UNITS
from telemetry.stream.decoder import Decoder

ROOT = Path(__file__).parents[2]
DOCUMENT = (ROOT / "gui" / "guide" / "formats.md").read_text(encoding="utf-8")
SCHEMAS = ROOT / "telemetry" / "report" / "schemas"


def examples(kind):
    """The fenced examples of one kind, in the document's order."""
    return re.findall(rf"```{kind}\n(.*?)```", DOCUMENT, re.DOTALL)


def schema(name):
    found = json.loads((SCHEMAS / f"{name}.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(found)
    return jsonschema.Draft202012Validator(found)


def test_the_stream_decodes_as_the_document_says():
    (text,) = examples("stream")
    decoder = Decoder()
    chunks = [*decoder.feed(text.encode(), 0), *decoder.finish()]
    assert decoder.tally.lines_of == {"data": 2, "header": 4, "note": 2, "console": 0, "rejected": 0}
    assert sum(chunk.rows for chunk in chunks) == 2
    assert [note.text for chunk in chunks for note in chunk.notes] == ["gate open", "read,crate 2,rust"]
    assert chunks[-1].colours == ("none", "rust")


def test_every_quantity_and_unit_is_named():
    section = DOCUMENT.split("**Quantities and units.**")[1].split("**Plain numbers.**")[0]
    assert QUANTITIES.keys() - {"t_us", "arrival_us", "boot"} <= set(re.findall(r"`(\w+)`", section))
    for name, units in UNITS.items():
        row = next(line for line in section.splitlines() if line.startswith("|") and f"`{name}`" in line)
        given = {unit.strip() for unit in row.split("|")[3].split(",")}
        assert {unit for unit in units if unit.isascii()} <= given, name
        for unit in given:
            header = f"#t/ms,{name}/{unit}" if name != "t" else f"#t/{unit}"
            (chunk,) = Decoder().feed(f"{header}\n{'1' if name == 't' else '1,1'}\n".encode(), 0)
            assert (chunk.rows, chunk.remarks) == (1, ()), header


def test_the_course_is_a_course():
    (text,) = examples("toml")
    course = parse_course(text, "formats.md")
    assert [slot.name for slot in course.slots] == ["tag 1", "tag 2", "crate 1", "crate 2", "lid"]
    truth = re.search(r"in slot order: `([^`]+)`", DOCUMENT)
    assert truth is not None
    assert parse_truth(truth[1], course, "formats.md") == ("rust", "leaf", "rust", "leaf", "white")


def test_every_way_a_leg_starts_is_named():
    row = next(line for line in DOCUMENT.splitlines() if "| `starts` |" in line)
    for start in LegStart:
        assert f"`{start.value}" in row


@pytest.mark.parametrize(("name", "number"), [("comparison", 0), ("tune", 1), ("stress", 2)])
def test_the_examples_fit_their_schemas(name, number):
    example = json.loads(examples("json")[number])
    schema(name).validate(example)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("runs", 0, "outcome"), "mostly right"),
        (("runs", 0, "correct"), True),
        (("runs", 0, "readings", 0, "how"), "guessed"),
        (("runs", 0, "readings", 1, "colour"), "rust"),
        (("runs", 0, "errors", "missed"), -1),
        (("strategies", 0, "rate"), 1.5),
    ],
)
def test_what_breaks_the_contract_breaks_the_schema(path, value):
    example = json.loads(examples("json")[0])
    place = example
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    assert not schema("comparison").is_valid(example)


def test_a_real_comparison_fits_the_schema(tmp_path, capsys):
    runs = [str(ROOT / "recordings" / name) for name in ("venue-01.h5", "venue-codes-only-23.h5")]
    out = tmp_path / "out.json"
    assert main(["compare", *runs, "--strategy", "windows", "--strategy", "stand-and-look", "--json", str(out)]) == 0
    capsys.readouterr()
    document = json.loads(out.read_text(encoding="utf-8"))
    assert len(document["runs"]) == 4
    schema("comparison").validate(document)


def test_the_log_of_a_capture_has_the_keys_that_the_document_shows(tmp_path, capsys):
    course, text, log = tmp_path / "course.toml", tmp_path / "run.txt", tmp_path / "log.txt"
    simulated = simulate("practice", 4)
    course.write_text(simulated.course.text, encoding="utf-8")
    text.write_bytes(simulated.data)
    words = ["--course", str(course), "--strategy", "always-answer", "--log", str(log), "-o", str(tmp_path / "run.h5")]
    assert main(["capture", str(text), *words]) == 0
    capsys.readouterr()
    written = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    (shown,) = [json.loads(text) for text in examples("json") if '"sample"' in text]
    assert len(written) == len(simulated.truth)
    for line in written:
        assert line.keys() == shown.keys()
        assert all(line[key] is None or type(line[key]) is type(shown[key]) for key in shown)
        assert line["how"] in {"read", "inferred", "assumed"}


def test_the_other_documents_fit_their_schemas(tmp_path, capsys):
    shutil.copy(ROOT / "recordings" / "venue-01.h5", tmp_path / "a.h5")
    (tmp_path / "b.h5").write_bytes(b"no recording")
    capsys.readouterr()
    for name, words in (("runs", ["runs", "list", str(tmp_path)]), ("doctor", ["doctor", "--no-ble"])):
        main([*words, "--json"])
        document = json.loads(capsys.readouterr().out)
        schema(name).validate(document)
        assert len(document) > 1
        for key in schema(name).schema["items"]["required"]:
            assert not schema(name).is_valid([{other: value for other, value in document[0].items() if other != key}]), key
        assert not schema(name).is_valid([document[0] | {"state": "well"}])
        assert set(document[0]) <= set(schema(name).schema["items"]["properties"])


def test_every_exit_code_is_named():
    section = DOCUMENT.split("## 7. Exit codes")[1]
    codes = {value for name, value in vars(errors).items() if name.startswith("EXIT_")}
    assert {int(code) for code in re.findall(r"^\| (\d+) \|", section, re.MULTILINE)} == codes


def test_a_reading_stands_where_it_was_decided_as_the_document_says():
    """Document and schema say so; runs show it: a window decides behind its marker, evidence when the run is over."""
    explained = next(line for line in DOCUMENT.splitlines() if line.startswith("| `t_ms`, `dist_cm` |"))
    assert "not where the marker stands" in explained
    of_reading = schema("comparison").schema["$defs"]["reading"]["properties"]
    assert "decided" in of_reading["t_ms"]["description"]
    assert "not where the marker stands" in of_reading["dist_cm"]["description"]
    runs = [ROOT / "recordings" / f"practice-0{k}.h5" for k in (1, 2)]
    strategies = ("windows", "evidence")
    found = compare(runs, ComparisonRequest(strategies, reasons=False))
    course = load(runs[0]).course
    assert course is not None
    for result in found.results:
        for slot, reading in zip(course.slots, result.taken.slots, strict=True):
            if result.strategy == "evidence" or slot.at_cm is None:
                assert reading.dist_cm is None
            elif reading.colour is not None:
                assert reading.dist_cm is not None
                assert slot.at_cm + slot.width_cm / 2 <= reading.dist_cm < slot.at_cm + slot.width_cm / 2 + 4
