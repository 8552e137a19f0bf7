"""Strategies from names, text files, settings and a team's own Python file; every typo gets its sentence."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from telemetry.cli import main
from telemetry.errors import StrategyError
from telemetry.reading.catalogue import AUTO, GROUPS, STAGES
from telemetry.reading.load import load_strategy, parse_strategy, write_toml
from telemetry.reading.plan import make_plan
from telemetry.reading.strategies import STRATEGIES
from telemetry.reading.strategy import Strategy, Use

from .made import NAMES, PALETTE, Made, course, events_of, in_order, slots

GOOD = """
name = "ours"
what = "Ours."
[[stage]]
use = "auto"
[[stage]]
use = "hold"
samples = 4
[[stage]]
use = "from-note"
text = "gate open"
[[stage]]
use = "mute"
colours = "rust, pink"
"""


def _file(folder: Path, text: str, name: str = "ours.toml") -> str:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_a_text_file_makes_a_strategy(tmp_path: Path) -> None:
    strategy = load_strategy(_file(tmp_path, GOOD))
    assert strategy.name == "ours"
    assert [use.label for use in strategy.uses][1] == "hold(samples=4)"
    plan = make_plan(strategy, course(in_order(2)), PALETTE, ("colour", "dist"), NAMES)
    assert plan.notes == {"gate open": 1}
    assert plan.settings[4] == {"colours": (1 << plan.names.index("rust")) | (1 << plan.names.index("pink"))}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[[stage]]\nuse = "hodl"', "Did you mean 'hold'?"),
        ('[[stage]]\nuse = "hold"\nsample = 3', "Did you mean 'samples'?"),
        ('[[stage]]\nuse = "hold"\nsamples = 0', "outside 1 to 100 samples"),
        ('[[stage]]\nuse = "hold"\nsamples = "3"', "whole number in samples"),
        ('[[stage]]\nuse = "hold"\nsamples = 2.5', "whole number in samples"),
        ('[[stage]]\nuse = "hold"\nsamples = true', "whole number in samples"),
        ('[[stage]]\nuse = "from-note"\ntext = 3', "must be a text"),
        ('[[stage]]\nuse = "change"\nsamples = 3', "has no settings"),
        ('[[stages]]\nuse = "hold"', "Did you mean 'stage'?"),
        ('[[stage]]\nsamples = 3', "which stage to use"),
        ('stage = "hold"', "list of tables"),
        ("name = 3", "must be a text"),
        ('name = "x"', "at least one stage"),
        ('[[stage]]\nuse = "eliminate"\n[[stage]]\nuse = "hold"', "Put 'eliminate' at the end"),
        ("[[stage]\n", "not valid TOML"),
    ],
)
def test_every_typo_gets_its_sentence(tmp_path: Path, text: str, says: str) -> None:
    where = _file(tmp_path, text)
    with pytest.raises(StrategyError) as caught:
        load_strategy(where)
    assert says in str(caught.value)
    assert where in str(caught.value)


@pytest.mark.parametrize(
    ("spec", "says"),
    [
        ("holt", "Did you mean 'hold'?"),
        ("hold:hold.samples=x", "not a whole number"),
        ("hold:hold.samples=1000", "outside 1 to 100"),
        ("hold:hodl.samples=3", "Did you mean 'hold'?"),
        ("hold:samples=3", "STAGE.SETTING=VALUE"),
        ("absent.toml", "no such file"),
        ("absent.py", "no such file"),
    ],
)
def test_so_does_every_word(spec: str, says: str) -> None:
    with pytest.raises(StrategyError) as caught:
        load_strategy(spec)
    assert says in str(caught.value)


def test_settings_can_be_changed_with_the_name() -> None:
    strategy = load_strategy("hold:hold.samples=7,once.gap=2")
    assert [use.label for use in strategy.uses][1:3] == ["hold(samples=7)", "once(gap=2)"]
    assert STRATEGIES["hold"].uses[1].settings["samples"] == 3


def test_a_bad_text_is_an_error_not_a_crash(tmp_path: Path) -> None:
    path = tmp_path / "odd.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(StrategyError, match="not a text in UTF-8"):
        load_strategy(str(path))


_TEXTS = st.text(min_size=1).filter(str.strip)
_USES = st.sampled_from([stage for stage in STAGES.values() if not stage.closes]).flatmap(
    lambda stage: st.fixed_dictionaries(
        {},
        optional={
            setting.name: _TEXTS if setting.is_text else st.integers(setting.low, setting.high)
            for setting in stage.settings
        },
    ).map(lambda settings: Use(stage.name, settings))
)


@given(st.text(min_size=1), st.text(), st.lists(_USES, min_size=1, max_size=5))
def test_what_is_written_is_read_again(name: str, what: str, parts: list[Use]) -> None:

    strategy = Strategy(name, name, what, tuple(parts))
    again = parse_strategy(tomllib.loads(write_toml(strategy)), "x", "x")
    assert again == strategy


@pytest.mark.parametrize("name", STRATEGIES)
@pytest.mark.parametrize("places", [True, False])
def test_every_named_strategy_can_be_made_for_any_course(name: str, places: bool) -> None:
    on = course(slots(5.0, 15.0) if places else in_order(2))
    plan = make_plan(STRATEGIES[name], on, PALETTE, ("colour", "dist"), ("none", "beige"))
    made = Made().to(45).to(55, "rust").to(145).to(155, "leaf").to(200)
    if not plan.lacks(made.columns):
        events_of(made, plan)
    assert plan.fresh().chains[0].stages[-1] is not plan.chains[0].stages[-1]
    assert "beige" in plan.names


def test_what_a_run_does_not_have_is_said() -> None:
    def lacks(name: str, on: str, *has: str) -> str:
        return make_plan(STRATEGIES[name], course(on), PALETTE, has, NAMES).lacks(has)

    assert lacks("windows", in_order(2), "colour", "dist").endswith("the course does not say where s1 is")
    assert lacks("windows", slots(5.0), "colour") == "windows needs a distance"
    assert lacks("stand-and-look", slots(5.0), "colour", "dist").endswith("the robot never stood still on this run")
    assert lacks("stand-and-look", slots(5.0), "colour", "dist", "stop:1") == ""
    legs = '[[leg]]\nname = "a"\n[[leg]]\nname = "b"\nstarts = "note:gate open"\n'
    gate = legs + in_order(1).replace("group", 'leg = "b"\ngroup', 1)
    assert lacks("checklist", gate, "colour").startswith("checklist needs the note 'gate open'")
    assert lacks("checklist", gate, "colour", "note:gate open") == ""


def test_more_than_29_colours_are_too_many() -> None:
    with pytest.raises(StrategyError, match="29 are the most"):
        make_plan(STRATEGIES["hold"], course(in_order(1)), PALETTE, (), [f"c{k}" for k in range(29)])


def test_a_colour_that_nobody_knows_is_refused() -> None:
    strategy = load_strategy("first-come")
    muted = Strategy("x", "x", "x.", (*strategy.uses[:1], Use("mute", {"colours": "rsut"})))
    with pytest.raises(StrategyError, match="Did you mean 'rust'"):
        make_plan(muted, course(in_order(1)), PALETTE, (), NAMES)


OWN = '''
class Ours:
    """Takes what was seen twice."""

    notes = ("gate open",)

    def __init__(self, names, notes):
        self.open = notes["gate open"]
        self.last = 0

    def step(self, label, m):
        taken = label if label == self.last and m.pos > 30 else -1
        self.last = label if taken < 0 else 0
        return taken
'''


def test_a_teams_own_file_is_a_strategy(tmp_path: Path) -> None:
    strategy = load_strategy(_file(tmp_path, OWN, "ours.py"))
    assert (strategy.name, strategy.what) == ("ours", "Takes what was seen twice.")
    plan = make_plan(strategy, course(in_order(2)), PALETTE, ("colour", "dist"), NAMES)
    made = Made().see("rust", 2).none(5).see("leaf", 2).none(1).see("sky", 2).none(2)
    first = events_of(made, plan)
    assert [(row, event >> 8, event & 31) for row, _, event in first] == [
        (8, 1, plan.names.index("leaf")), (11, 2, plan.names.index("sky")),
    ]  # fmt: skip
    assert events_of(made, plan) == first
    assert events_of(made, plan.fresh()) == first


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("return label / 0", "line 5: ZeroDivisionError"),
        ("return 'rust'", "step returned 'rust'"),
        ("return 99", "step returned 99"),
        ("return None", "step returned None"),
        ("return self.absent", "line 5: AttributeError"),
        ("return m.dist", "'Moment' object has no attribute 'dist'. m has t, d, v, h, refl, red,"),
        ("return 98", "or a colour's number, here 0 none, 1 "),
        ("raise SystemExit(0)", "line 5: SystemExit"),
        ("m.slot = 1; return 1", "step set m.slot to 1"),
        ("m.slot = -2; return 1", "step set m.slot to -2"),
        ("m.slot = None; return 1", "step set m.slot to None"),
        ("m.how = 5; return 1", "step set m.how to 5"),
        ("m.sure = 0.5; return 1", "step set m.sure to 0.5"),
        ("return 1", "at the end of the run"),
    ],
)
def test_what_goes_wrong_in_it_is_one_sentence(tmp_path: Path, body: str, says: str) -> None:
    text = f"class A:\n    def __init__(self):\n        self.x = 0\n    def step(self, label, m):\n        {body}\n"
    strategy = load_strategy(_file(tmp_path, text, "ours.py"))
    made = Made().see("rust", 2)
    with pytest.raises(StrategyError) as caught:
        events_of(made, make_plan(strategy, course(in_order(1)), PALETTE, ("colour",), NAMES))
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x = 1\n", "no class has a step"),
        ("class A:\n    def step(self): pass\nclass B:\n    def step(self): pass\n", "several classes"),
        ("x = = 1\n", "SyntaxError"),
        ("import nowhere_to_be_found\n", "ModuleNotFoundError"),
        ("import sys\nsys.exit(0)\n", "line 2: SystemExit"),
    ],
)
def test_a_file_that_is_no_logic_is_refused(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(StrategyError) as caught:
        load_strategy(_file(tmp_path, text, "ours.py"))
    assert says in str(caught.value)


@pytest.mark.parametrize("strategy", STRATEGIES.values(), ids=STRATEGIES)
def test_every_number_in_an_explained_file_counts(strategy: Strategy) -> None:
    """A beginner changes a number and nothing else: no number may stand behind a comment mark."""
    text = write_toml(strategy, explained=True)
    assert not re.search(r"^# *\w+ = -?\d", text, re.MULTILINE)
    whole = parse_strategy(tomllib.loads(text), "x", "x")
    assert (whole.name, whole.title, whole.what) == (strategy.name, strategy.title, strategy.what)
    for use, before in zip(whole.uses, strategy.uses, strict=True):
        numbers = [one for one in STAGES[use.stage].settings if not one.is_text] if use.stage in STAGES else []
        assert dict(use.settings) == {one.name: one.default for one in numbers} | dict(before.settings)
        for one in numbers:
            changed = one.low if dict(use.settings)[one.name] != one.low else one.high
            edited = re.sub(rf"^{one.name} = -?\d+", f"{one.name} = {changed}", text, flags=re.MULTILINE)
            again = parse_strategy(tomllib.loads(edited), "x", "x")
            assert any(other.settings.get(one.name) == changed for other in again.uses)


def _said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    code = main(["strategies", *words])
    told = capsys.readouterr()
    return code, " ".join((told.out + told.err).split())


def test_everything_in_the_list_can_be_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    code, text = _said(capsys)
    assert code == 0
    for name in (AUTO, *STAGES, *STRATEGIES):
        assert f" {name} " in text
        assert _said(capsys, name)[0] == 0
    assert set(STAGES) == {stage.name for stages in GROUPS.values() for stage in stages}


def test_a_name_that_is_both_tells_of_both(capsys: pytest.CaptureFixture[str]) -> None:
    _, text = _said(capsys, "hold")
    assert text.startswith("hold: Hold ")
    assert "There is a stage of that name too: stage hold " in text


def test_a_misspelt_name_is_looked_for_among_stages_too(capsys: pytest.CaptureFixture[str]) -> None:
    code, text = _said(capsys, "mut")
    assert code == 3
    assert text == "sidelong: there is no strategy or stage 'mut'. Did you mean 'mute'?"


def test_a_stage_makes_no_file(capsys: pytest.CaptureFixture[str]) -> None:
    code, text = _said(capsys, "mute", "--toml")
    assert code == 2
    assert "'mute' is a stage, and only a strategy makes a file" in text
