"""What is said of runs that strategies cannot read: numbers of a robot that measures no distance."""

import pytest

from telemetry.cli import main
from telemetry.sources.synthetic.run import built_in_course


@pytest.mark.parametrize("colour", [True, False])
def test_another_strategy_is_advised_only_where_one_can_read_the_run(tmp_path, capsys, colour):
    (tmp_path / "course.toml").write_text(built_in_course("row").text, encoding="utf-8")
    rows = [f"{10 * n},{'rust,' if colour else ''}40" for n in range(200)]
    text = "\n".join([f"#t/ms,{'colour,' if colour else ''}refl/%", *rows[:100], "!1000,gate open", *rows[100:], ""])
    (tmp_path / "a.txt").write_text(text, encoding="utf-8")
    words = [str(tmp_path / "a.txt"), "-o", str(tmp_path / "a.h5"), "--course", str(tmp_path / "course.toml")]
    assert main(["ingest", *words]) == 0
    capsys.readouterr()
    assert main(["compare", str(tmp_path / "a.h5")]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert ("None of these strategies can read any of these runs." in page) == (not colour)
    assert ("or choose a strategy that does without" in page) == colour
    assert page.count("Let the robot send the sensor's colour, or its raw red, green and blue.") == (not colour)
