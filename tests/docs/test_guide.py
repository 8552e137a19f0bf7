"""The guide: every command and every piece of Python in it is executed, in the order of its page, in a folder of its own."""

import contextlib
import io
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from telemetry.cli import Parser, main
from telemetry.commands import ALL_COMMANDS, find
from telemetry.reading.portable.moment import Moment
from telemetry.reading.strategies import STRATEGIES
from telemetry.sources.synthetic.run import simulate

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "gui" / "guide"
PAGES = sorted(GUIDE.glob("*.md"))
DOCUMENTS = [*PAGES, *(ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "docs/releasing.md"))]
SAID = re.compile(r"`((?:tag|crate) \d: [^`]+)`")
BLOCK = re.compile(r"^```(sh|python)\n(?:# (\S+\.py)\n)?(.*?)^```", re.MULTILINE | re.DOTALL)
"""Kind, the name of the file that it is (its first line, if that is one), and what stands in it."""


def command(line):
    """One line of a shell: words, perhaps '> FILE'; what it printed, in one line."""
    words = shlex.split(line)
    assert words[0] == "sidelong", line
    target = words[words.index(">") + 1] if ">" in words else None
    told = io.StringIO()
    told.buffer = io.BytesIO()  # what serves bytes writes them to the stream below
    with contextlib.redirect_stdout(told):
        code = main(words[1 : words.index(">")] if target else words[1:])
    if target:
        Path(target).write_bytes(told.buffer.getvalue() or told.getvalue().encode())
    assert code == 0, f"{line}: exit code {code}"
    return " ".join(told.getvalue().split())


@pytest.mark.timeout(300)
@pytest.mark.parametrize("page", [*PAGES, ROOT / "README.md"], ids=lambda page: page.stem)
def test_every_command_and_every_piece_of_python_works(page, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    names, told = {}, ""
    for kind, name, text in BLOCK.findall(page.read_text(encoding="utf-8")):
        if "from emitter import" in text:  # for the robot; tests/robot/test_round_trip.py drives it
            continue
        if kind == "sh":
            for line in filter(None, map(str.strip, text.splitlines())):
                told += command(line)
        elif name:
            Path(name).write_text(text, encoding="utf-8")
        else:
            exec(compile(text, f"{page.name}", "exec"), names)
    for sentence in SAID.findall(page.read_text(encoding="utf-8")):
        assert " ".join(sentence.split()) in told, f"{page.name} quotes what no command of it says: {sentence}"


def test_the_truths_that_the_practice_day_types_are_what_the_built_in_robot_drives_past():
    text = (GUIDE / "practice-day.md").read_text(encoding="utf-8")
    for seed in (1, 2, 3):
        assert f"sidelong runs truth {','.join(simulate('venue', seed).truth)} runs/run{seed}.h5\n" in text


def test_no_page_shows_a_command_that_is_not_executed():
    for page in PAGES:
        text = BLOCK.sub("", page.read_text(encoding="utf-8"))
        assert not re.search(r"^\s*(\$ )?sidelong ", text, re.MULTILINE), page


def test_every_strategy_is_explained_in_its_own_words():
    text = (GUIDE / "strategies.md").read_text(encoding="utf-8")
    for name, strategy in STRATEGIES.items():
        assert f"| `{name}` | {strategy.what} |" in text
    assert set(re.findall(r"^\| `([\w-]+)` \|", text.partition("## A logic")[0], re.MULTILINE)) == set(STRATEGIES)


def test_every_name_that_a_logic_of_ones_own_may_ask_is_explained():
    page = (GUIDE / "strategies.md").read_text(encoding="utf-8")
    table = page[page.index("| its name | what it is | unit |") :].split("\n\n", 1)[0]
    explained = set(re.findall(r"`(\w+)`", "\n".join(line.split("|")[1] for line in table.splitlines())))
    written = {"slot", "how", "sure", "stop"}  # what stages write for others
    assert explained == set(vars(Moment())) - written


def test_every_command_is_listed_in_its_own_words():
    text = (GUIDE / "commands.md").read_text(encoding="utf-8")
    for name, what in ALL_COMMANDS.items():
        assert f"| `{name}` | {what[:1].upper()}{what[1:]}. |" in text
    assert set(re.findall(r"^\| `(\w+)` \|", text, re.MULTILINE)) == set(ALL_COMMANDS)


def test_every_command_that_the_readme_names_in_its_table_takes_those_options():
    """A command with a port or a file cannot be run here; that its words are understood can be seen."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r"\| `sidelong ([^`]+)` \|", text)
    assert len(shown) == 9
    for line in shown:
        name, *words = shlex.split(line)
        parser = Parser(prog=name)
        find(name).arguments(parser)
        parser.parse_args(words)


LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_every_link_and_picture_is_there(document):
    for link in LINK.findall(document.read_text(encoding="utf-8")):
        if re.match(r"[a-z]+:", link):
            continue
        path, _, anchor = link.partition("#")
        target = (document.parent / path).resolve() if path else document
        assert target.exists(), f"{document.name}: {link}"
        if anchor:
            headings = re.findall(r"^#+ (.+)$", target.read_text(encoding="utf-8"), re.MULTILINE)
            anchors = {re.sub(r"[^\w\- ]", "", one.lower()).replace(" ", "-") for one in headings}
            assert anchor in anchors, f"{document.name}: {link}"


def test_the_pages_are_built_without_a_warning_and_ask_for_nothing(tmp_path):
    """Built by mkdocs in its strict mode; what the pages load lies beside them."""
    words = ["build", "-q", "-f", str(ROOT / "docs" / "mkdocs.yml"), "-d", str(tmp_path / "site")]
    done = subprocess.run([sys.executable, "-m", "mkdocs", *words], capture_output=True, text=True, timeout=100, check=False)
    assert done.returncode == 0, done.stderr
    built = list((tmp_path / "site").glob("*.html"))
    assert len(built) == len(PAGES) + 1  # and the page for what is not found
    for page in built:
        text = page.read_text(encoding="utf-8")
        shown = re.sub(r"<(pre|code|script|style)\b.*?</\1>", "", text, flags=re.DOTALL)
        assert "```" not in text, f"{page.name}: a fence that is not understood"
        assert not re.search(r"\|\s*-{3,}", shown), f"{page.name}: a table that is not understood"
        assert not re.findall(r'<(?:script|link|img|iframe)[^>]+(?:src|href)="(?:https?:)?//[^"]+', text), page
