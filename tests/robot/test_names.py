"""Names from files are data: whatever they are, the generated programs keep their structure, and say them as they are."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.course import parse_course
from telemetry.errors import EXIT_INPUT, StrategyError
from telemetry.reading.strategies import STRATEGIES
from telemetry.robot.card import card_html
from telemetry.robot.export import Export, export
from telemetry.robot.order import ReaderOrder, order_for_columns
from telemetry.robot.pdf import write_pdf
from telemetry.robot.recipe.sheet import sheet
from telemetry.robot.samples import samples_of
from telemetry.robot.self_check import SelfCheck, out_of_range, self_check

from .reading import c_compiler, needs_micropython, run_words

NASTY = [
    '"); import os', "'''", 'a "quoted\\" name', "back\\", "a, b", "x" * 200, "Ящик 箱 🟥", "*/ int x; /*", "??/ ??'",
    "%s %n {0}", "// end\\", "#define X", "\\u0041\\x41\\101",
    "</style></svg><script>alert(1)</script>", "<!-- -- ]]> &#60;b&#62; &amp;", "1..2pt 12pt",
    "EVENTS = ()", "\u202egnp.nur\u202c", "SAMPLES", "a\tb", "${x} `id` $(id)", "%(name)s \\N{BULLET}", "é" * 100,
    "\ufeffx", "__class__", "{moments} {making} {colour}", "/*DATA*/",
]  # fmt: skip
STRING_OR_COMMENT = re.compile(r'"(?:[^"\\]|\\.)*"|/\*.*?\*/', re.DOTALL)


PLAIN = parse_course("""[course]
name = "course"
[[leg]]
name = "a"
[[leg]]
name = "b"
starts = "note:note"
[[slot]]
name = "slot"
leg = "a"
at_cm = 5
colours = ["colour", "plain"]
[[slot]]
name = "second"
leg = "b"
at_cm = 5
colours = ["colour", "plain"]
""")


def order_of(slot: str, colour: str, note: str) -> ReaderOrder:
    """A course file with such names is refused at the door; here they come in behind it."""
    course = replace(
        PLAIN, name=slot, slots=(replace(PLAIN.slots[0], name=slot), PLAIN.slots[1]),
        legs=(PLAIN.legs[0], replace(PLAIN.legs[1], starts_note=note)),
        groups=tuple(replace(group, colours=(colour, "plain")) for group in PLAIN.groups),
    )  # fmt: skip
    return order_for_columns(STRATEGIES["checklist"], course, "t/ms,colour,dist/cm")


def shape(source: str) -> list[str]:
    """The tree of a Python program without what its texts say."""
    return [
        f"str:{type(node.value).__name__}" if isinstance(node, ast.Constant) and isinstance(node.value, str)
        else type(node).__name__
        for node in ast.walk(ast.parse(source))
    ]  # fmt: skip


def c_shape(source: str) -> str:
    """A C program without what its texts and comments say."""
    return STRING_OR_COMMENT.sub(lambda found: '""' if found[0][0] == '"' else "", source)


@pytest.mark.parametrize("name", NASTY)
def test_the_programs_keep_their_structure(name: str) -> None:
    plain, nasty = order_of("slot", "colour", "note"), order_of(name, name, name)
    made, wanted = export(nasty).files, export(plain).files
    for file in ("reader.py", "check.py"):
        assert shape(made[file]) == shape(wanted[file])
    scope: dict[str, object] = {}
    exec(compile(made["reader.py"], "reader.py", "exec"), scope)
    assert scope["SLOTS"] == (name, "second")
    assert scope["NOTES"] == {name: 1}
    c, c_wanted = export(nasty, "c").files, export(plain, "c").files
    for file in ("reader.h", "reader.c", "check.c"):
        assert c_shape(c[file]) == c_shape(c_wanted[file])


@pytest.mark.parametrize("name", NASTY)
def test_the_pages_keep_their_structure(name: str, tmp_path: Path) -> None:
    """Sheet and card: the tags are those of a plain course, and the name stands there as a text."""
    plain, nasty = order_of("slot", "colour", "note"), order_of(name, name, name)
    check = SelfCheck(None, "not tried")
    for page, wanted in (
        (sheet(nasty).page, sheet(plain).page), (card_html(nasty, check, "today"), card_html(plain, check, "today")),
    ):  # fmt: skip
        found, asked = tags_and_texts(page), tags_and_texts(wanted)
        assert found[0] == asked[0]
        assert name.strip() in found[1] or name[:15] in found[1]
    write_pdf(sheet(nasty).page, tmp_path / "sheet.pdf")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(f"{tag} {[key for key, _ in attrs]}")

    def handle_endtag(self, tag: str) -> None:
        self.tags.append(f"/{tag}")

    def handle_comment(self, data: str) -> None:
        self.tags.append("comment")

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def tags_and_texts(page: str) -> tuple[list[str], str]:
    """Tags with the names of their attributes, in order, and all text."""
    parser = _Tags()
    parser.feed(page)
    parser.close()
    return parser.tags, "".join(parser.texts)


@pytest.mark.parametrize("word", ["nothing", "open"])
def test_a_colour_called_like_a_word_of_the_steps_is_refused(word: str) -> None:
    with pytest.raises(StrategyError, match=f"a colour is called '{word}'"):
        sheet(order_of("slot", word, "note"))
    assert sheet(order_of(word, "rust", word)).page, "slots and notes may be called so"


def driven(made: Export, folder: Path, name: str) -> bytes:
    stream = f"#t/ms,colour,dist/cm\n1,none,0\n2,plain,4.9\n3,plain,5\n4,plain,5.1\n5,none,9\n!6,{name}\n"
    stream += "7,none,0\n8,plain,4.9\n9,plain,5\n10,plain,5.1\n"
    made.save(folder)
    return stream.encode()


@needs_micropython
@pytest.mark.parametrize("language", ["micropython", "c"])
def test_the_programs_say_names_as_they_are(language: str, tmp_path: Path) -> None:
    from .reading import MICROPYTHON

    if language == "c" and c_compiler() is None:
        pytest.skip("no C compiler here")
    for number, name in enumerate(NASTY):
        folder = tmp_path / str(number)
        made = export(order_of(name, "rust", name), language)
        data = driven(made, folder, name)
        words: list[str | Path] = [MICROPYTHON, folder / "check.py"]
        if language == "c":
            compiler = c_compiler()
            assert compiler is not None
            done = run_words([compiler, "-std=c99", "-Wall", "-Werror", *folder.glob("*.c"), "-o", folder / "check"])
            assert done.returncode == 0, done.stderr.decode()
            words = [folder / "check"]
        done = run_words(words, data)
        assert done.returncode == 0, done
        assert done.stdout.decode().splitlines() == [f"!3,read,{name},plain", "!9,read,second,plain"]


OWN = '''"""Ours."""
HOW_OFTEN = 2

def twice(count):
    return count == HOW_OFTEN

class Ours:
    "Takes a colour when it was seen twice."
    notes = ("gate open",)
    def __init__(self, names, notes):
        self.names = names
        self.last = self.seen = 0
    def step(self, label, m):
        self.seen = self.seen + 1 if label == self.last else 1
        self.last = label
        return label if twice(self.seen) and label > 0 else -1
'''


def test_a_logic_of_a_teams_own_goes_along_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "ours.py"
    course = tmp_path / "course.toml"
    course.write_text(PLAIN.text)
    words = ["reader", str(own), "--course", str(course), "--columns", "t/ms,colour,dist/cm", "--force"]
    own.write_text(OWN)
    assert main([*words, "-o", str(tmp_path / "out")]) == 0
    assert OWN.strip() in (tmp_path / "out" / "reader.py").read_text()
    assert "same as on the computer" in capsys.readouterr().out
    for text, sentence in (
        ("import numpy\n" + OWN, "it imports 'numpy', which is not on every board"),
        (OWN.replace("def twice", "def whole(x): return x\nclass Track: pass\ndef twice"), "the name 'Track'"),
    ):
        own.write_text(text)
        assert main([*words, "-o", str(tmp_path / "out")]) == EXIT_INPUT
        assert sentence in capsys.readouterr().err
    own.write_text(OWN)
    assert main([*words, "-o", str(tmp_path / "c"), "--language", "c"]) == EXIT_INPUT
    assert "cannot be put into C" in capsys.readouterr().err
    assert not (tmp_path / "c").exists()
    own.write_text(OWN.replace("self.last = label", "self.last = label\n        self.far = (label + 2) * 1.5"))
    assert main([*words, "-o", str(tmp_path / "out")]) == 0
    assert "1.5 is not a whole number" in capsys.readouterr().out


def test_what_a_board_cannot_hold_is_found(tmp_path: Path) -> None:
    order = order_of("slot", "rust", "note")
    assert out_of_range(order.plan, samples_of(order.plan)) == ()
    plan = order.plan.fresh()
    hold = next(stage for stage in plan.chains[0].stages if type(stage).__name__ == "Hold")
    assert self_check(export(order)).same
    for recipe in order.plan.recipes:
        for number, (name, make, arguments) in enumerate(recipe):
            if name == "hold":
                recipe[number] = (name, make, (1 << 30, *arguments[1:]))
    assert type(hold).__name__ == "Hold"
    with pytest.raises(AssertionError, match="outside"):
        out_of_range(order.plan, samples_of(order.plan))
