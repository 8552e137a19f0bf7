"""The report: one page that needs nothing else, says what the comparison says, and shows what files hold as text only."""

import base64
import colorsys
import csv
import io
import json
import re
import sys
import warnings
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from zlib import crc32

import pytest

from telemetry.calibrate.files import table_from_text
from telemetry.cli import main
from telemetry.errors import EXIT_INPUT, EXIT_OK, EXIT_STORAGE, EXIT_USAGE
from telemetry.palette_file import write_palette
from telemetry.replay.evaluate import work
from telemetry.replay.header import palette_for
from telemetry.report.fills import NONE_FILL, fill_of
from telemetry.report.page.pictures import LEAST_APART, WIDTH, apart
from telemetry.sources.synthetic.run import built_in_course, simulate

RECORDINGS = Path(__file__).parents[2] / "recordings"
VOID = {"meta", "link", "br", "img", "input", "hr"}


class Page(HTMLParser):
    """Every element of the page in order; fails where one is not closed."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.elements, self.open, self.words = [], [], []
        self.feed(text)
        self.close()
        assert not self.open, self.open

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


def reported(tmp_path, *words):
    out = tmp_path / "report.html"
    code = main(["report", *map(str, words), "-o", str(out), "--force"])
    return code, Page(out.read_text(encoding="utf-8")), out.read_text(encoding="utf-8")


def test_numbers_of_what_was_taken_never_stand_on_each_other() -> None:
    middles = [700.0, 705.0, 10.0, 950.0, 948.0, 703.0]
    places = apart(middles)
    ordered = sorted(places)
    assert all(after - before >= LEAST_APART for before, after in pairwise(ordered))
    assert ordered[0] > 0
    assert ordered[-1] <= WIDTH - 10
    assert sorted(range(6), key=places.__getitem__) == sorted(range(6), key=middles.__getitem__)
    assert places[2] == 10.0


def test_it_says_what_the_comparison_says(tmp_path, capsys):
    runs = [RECORDINGS / f"venue-0{number}.h5" for number in (1, 2, 3, 4)]
    strategies = ("--strategy", "first-come", "--strategy", "windows")
    assert main(["compare", *map(str, runs), *strategies, "--json", str(tmp_path / "out.json")]) == EXIT_OK
    document = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    code, page, _ = reported(tmp_path, *runs, *strategies, "--in-use", "first-come")
    assert code == EXIT_OK
    (summary,) = [one for one in document["strategies"] if one["strategy"] == "first-come"]
    assert f"read {summary['correct']} of 4 runs correctly" in page.text
    assert "4 runs on Orchard Row (simulated)" in page.text
    wrong = [one for one in document["runs"] if one["strategy"] == "first-come" and one["outcome"] == "wrong"]
    assert wrong
    for run in wrong:
        assert Path(run["recording"]).name in page.text
        assert run["why"].split("; ")[0] in page.text
    assert sum(tag == "section" for tag, _ in page.elements) == len(wrong)


def test_it_needs_nothing_else_and_runs_nothing(tmp_path, capsys):
    _, page, text = reported(tmp_path, RECORDINGS / "venue-01.h5")
    names = {tag for tag, _ in page.elements}
    assert not names & {"script", "iframe", "object", "embed", "img", "form", "base"}
    for _, attributes in page.elements:
        assert not any(name.startswith("on") for name in attributes)
        for name in ("src", "href", "action", "data"):
            assert (attributes.get(name) or "data:").startswith("data:")
    assert "url(" not in text
    assert "@import" not in text
    policy = next(a["content"] for t, a in page.elements if a.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'")


def test_the_data_of_every_picture_is_in_the_page(tmp_path, capsys):
    _, page, _ = reported(tmp_path, RECORDINGS / "venue-01.h5", "--strategy", "first-come")
    links = [a["href"] for t, a in page.elements if t == "a" and "download" in a]
    assert len(links) == sum(tag == "svg" for tag, _ in page.elements) >= 2
    tables = [list(csv.reader(io.StringIO(base64.b64decode(link.split(",")[1]).decode()))) for link in links]
    assert tables[0][0] == ["strategy", "low", "rate", "high", "runs"]
    assert tables[1][0][0] == "time/s"
    times = [float(row[0]) for row in tables[1][1:]]
    assert len(times) > 100
    assert times == sorted(times)
    assert all(0 <= float(value) <= 1 for row in tables[1][1:] for value in row[1:])


HOSTILE = "<img src=x onerror=alert(1)>"


def test_what_files_say_is_text(tmp_path, capsys):
    """A marker, a run and a remark that are markup come out as the words they are."""
    run = simulate("venue", 3)
    course = built_in_course().text.replace('name = "tag 1"', 'name = "<b>tag<script>1"')
    (tmp_path / "course.toml").write_text(course, encoding="utf-8")
    (tmp_path / "run.txt").write_bytes(run.data)
    truth = ",".join(run.truth)
    words = ["ingest", tmp_path / "run.txt", "--course", tmp_path / "course.toml", "--truth", truth]
    words += ["--light", HOSTILE, "--robot", "&amp;\u202eturned", "-o", tmp_path / "run.h5"]
    assert main([str(word) for word in words]) == EXIT_OK
    _, page, text = reported(tmp_path, tmp_path / "run.h5", "--strategy", "first-come")
    names = {tag for tag, _ in page.elements}
    assert not names & {"img", "script", "b"}
    assert HOSTILE in page.text
    assert "<b>tag<script>1" in page.text
    assert "\u202e" not in text


def test_each_palette_that_a_run_was_read_with_is_named(tmp_path, capsys):
    """Two recordings with a palette of their own, one without: nobody is told that typical colours stood in for all."""
    run = simulate("venue", 3)
    (tmp_path / "course.toml").write_text(built_in_course().text, encoding="utf-8")
    (tmp_path / "run.txt").write_bytes(run.data)
    words = ["ingest", str(tmp_path / "run.txt"), "--course", str(tmp_path / "course.toml"), "--truth", ",".join(run.truth)]
    for name in ("hall", "desk"):
        measured = replace(built_in(run), name=name, measured=True, made="from 7 still captures")
        write_palette(measured, tmp_path / f"{name}.toml")
        kept = ["--palette", str(tmp_path / f"{name}.toml"), "-o", str(tmp_path / f"{name}.h5")]
        assert main([*words, *kept]) == EXIT_OK
    assert main([*words, "-o", str(tmp_path / "bare.h5")]) == EXIT_OK
    _, page, _ = reported(tmp_path, tmp_path / "hall.h5", "--strategy", "first-come")
    assert "Palette hall, from the recordings themselves, from 7 still captures." in page.text
    assert "typical colours" not in page.text
    runs = [tmp_path / f"{name}.h5" for name in ("hall", "desk", "bare")]
    _, page, _ = reported(tmp_path, *runs, "--strategy", "first-come")
    assert "Palette hall, from the recordings themselves, from 7 still captures. Of hall.h5." in page.text
    assert "Palette desk, from the recordings themselves, from 7 still captures. Of desk.h5." in page.text
    assert "No measured palette was used for bare.h5; typical colours stood in for it." in page.text
    _, page, _ = reported(tmp_path, *runs, "--strategy", "first-come", "--palette", tmp_path / "desk.toml")
    assert "Palette desk, from 7 still captures." in page.text
    assert "typical colours" not in page.text
    _, page, _ = reported(tmp_path, tmp_path / "bare.h5", "--strategy", "first-come")
    assert "No measured palette was used; typical colours stood in for it." in page.text


def test_a_page_is_not_called_like_another_kind_of_file(tmp_path, capsys):
    for command, name in (("report", "report.txt"), ("report", "report"), ("card", "card.docx")):
        words = [str(RECORDINGS / "venue-01.h5")] if command == "report" else ["hold", "--course", "course.toml"]
        assert main([command, *words, "-o", str(tmp_path / name)]) == EXIT_USAGE
        assert f"{name} does not end in .html" in capsys.readouterr().err
        assert not (tmp_path / name).exists()


def built_in(run):
    data = table_from_text(run.data, "run")
    return palette_for(data, built_in_course(), None)


def test_margins_come_from_their_file(tmp_path, capsys):
    margin = {
        "of": "speed", "unit": "cm/s", "recorded": 44.0, "right_up_to": 71.0, "interval95": [64.0, 78.0],
        "first_failure": {"recording": "a.h5", "slot": "tag 2"},
    }  # fmt: skip
    kept = tmp_path / "margins.json"
    kept.write_text(json.dumps({"stress": {"strategy": "windows", "runs": 1, "margins": [margin]}}), encoding="utf-8")
    _, page, _ = reported(tmp_path, RECORDINGS / "venue-01.h5", "--strategy", "windows", "--margins", kept)
    assert "44 cm/s 71 cm/s 64 to 78 cm/s tag 2 in a.h5" in page.text
    assert "altered on the computer" in page.text
    assert "Of 'windows', on 1 run." in page.text


BAD_FIGURE = '{"stress": {"margins": [{"of": "speed", "unit": "cm/s", "right_up_to": "far"}]}}'


@pytest.mark.parametrize("text", ["", "[]", '{"stress": 3}', '{"stress": {"margins": [1]}}', "[" * 5000, BAD_FIGURE])
def test_other_files_are_no_margins(tmp_path, capsys, text):
    kept = tmp_path / "margins.json"
    kept.write_text(text, encoding="utf-8")
    words = [str(RECORDINGS / "venue-01.h5"), "--margins", str(kept), "-o", str(tmp_path / "out.html")]
    assert main(["report", *words]) == EXIT_USAGE
    assert "does not hold margins" in capsys.readouterr().err


def test_nothing_is_replaced_unasked(tmp_path, capsys):
    out = tmp_path / "notes.html"
    out.write_text("mine", encoding="utf-8")
    assert main(["report", str(RECORDINGS / "venue-01.h5"), "-o", str(out)]) == EXIT_STORAGE
    assert out.read_text(encoding="utf-8") == "mine"


def test_a_damaged_recording_is_named_and_the_rest_stands(tmp_path, capsys):
    (tmp_path / "broken.h5").write_bytes(b"no recording at all")
    code, page, _ = reported(tmp_path, RECORDINGS / "venue-01.h5", tmp_path / "broken.h5", "--strategy", "windows")
    assert code == EXIT_INPUT
    assert "could not be read" in page.text
    assert "broken.h5" in page.text


def test_every_text_of_the_page_reads_well_in_both_looks(tmp_path, capsys):
    """Contrast of 4.5:1 and more (WCAG 2.2, success criterion 1.4.3) between words and what is behind them."""
    from telemetry.report.page.markup import STYLE

    for block in re.findall(r"\{ (?:color-scheme: light dark; )?(--paper.*?)\}", STYLE, re.DOTALL):
        colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{3,6})", block))
        for ink in ("ink", "soft", "accent", "good", "bad"):
            for back in ("paper", "card", "band"):
                assert contrast(colours[ink], colours[back]) >= 4.5, (ink, back, colours)


def contrast(first, second):
    """The contrast ratio of WCAG 2.2."""
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour):
    digits = colour[1:] if len(colour) == 7 else "".join(2 * one for one in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_a_palette_that_is_called_palette_is_not_called_so_twice_and_none_is_painted_as_none(tmp_path, capsys):
    run = simulate("venue", 3)
    (tmp_path / "course.toml").write_text(built_in_course().text, encoding="utf-8")
    (tmp_path / "run.txt").write_bytes(run.data)
    measured = replace(built_in(run), name="palette 2026", measured=True, made="from 7 still captures")
    write_palette(measured, tmp_path / "p.toml")
    words = ["ingest", str(tmp_path / "run.txt"), "--course", str(tmp_path / "course.toml"), "--truth", ",".join(run.truth)]
    assert main([*words, "--palette", str(tmp_path / "p.toml"), "-o", str(tmp_path / "p.h5")]) == EXIT_OK
    _, page, html = reported(tmp_path, tmp_path / "p.h5", "--strategy", "first-come")
    assert "Palette 2026, from the recordings themselves" in page.text
    assert "Palette palette" not in page.text
    assert f'{NONE_FILL}"></i>none' in html
    assert fill_of("none") not in html


def test_a_recording_that_was_judged_is_not_loaded_again_for_the_page(tmp_path, monkeypatch):
    """Where one process does all the work; where several do, each of them and the page's own load it once."""
    times = Counter()
    real = work.load

    def counted(path):
        times[Path(path).name] += 1
        return real(path)

    for name, module in list(sys.modules.items()):
        if name.startswith("telemetry.") and vars(module).get("load") is real:
            monkeypatch.setattr(module, "load", counted)
    monkeypatch.setattr(work, "_recordings", work.Recordings())
    runs = [RECORDINGS / f"venue-0{k}.h5" for k in (1, 2, 3)]
    code, page, _ = reported(tmp_path, *runs, "--strategy", "hold", "--strategy", "windows")
    assert (code, times) == (EXIT_OK, {one.name: 1 for one in runs})
    assert all(one.name in page.text for one in runs)


@pytest.mark.parametrize("name", ["quince", "Ähre", "grün 2", "a" * 60])
def test_a_made_up_fill_has_the_hue_of_its_name_and_is_neither_pale_nor_dark(name):
    """Hue, saturation and value by colorsys and by colour-science, from the hexadecimal text that a page holds."""
    fill = fill_of(name)
    rgb = [int(fill[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    hsv = colorsys.rgb_to_hsv(*rgb)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    assert hsv == pytest.approx(tuple(colour.RGB_to_HSV(rgb)), abs=1e-9)
    hue_deg, wanted = 360 * hsv[0], crc32(name.encode()) % 360
    assert min(abs(hue_deg - wanted), 360 - abs(hue_deg - wanted)) < 1.0
    assert 0.4 < hsv[1] < 0.8
    assert hsv[2] == pytest.approx(0.7615, abs=0.005)  # lightness 0.55, saturation 0.47 in HSL


def test_strategies_that_read_as_many_are_named_and_the_order_is_explained(tmp_path):
    runs = [RECORDINGS / f"venue-0{k}.h5" for k in (1, 2, 3)]
    words = [word for name in ("windows", "evidence", "hold", "stand-and-look") for word in ("--strategy", name)]
    _, page, _ = reported(tmp_path, *runs, *words)
    assert "The strategy 'evidence' read 3 of 3 runs correctly (95 % range 44 to 100 %). So did 'windows'." in page.text
    assert "Then comes the one that says how sure it is." in page.text
    assert "stand-and-look not judged - - - - 3" in page.text
    _, page, _ = reported(tmp_path, *runs, "--strategy", "windows", "--strategy", "hold")
    assert "So did" not in page.text
    assert "how sure it is" not in page.text
