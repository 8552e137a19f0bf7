"""A new user's walk through the whole window on a real screen, by mouse or by keys alone; a picture of every step.

Not part of the tests. ``python tests/gui/walk.py OUT`` walks at two sizes, two scales, light and dark, by mouse, and once by
keys alone; ``OUT --only 1366x768-2-dark [--keys]`` one of them. It needs Xvfb and xdotool, and uses openbox where there is
one. Ends with 1 where a step could not be done. Beside each picture stands what ``seen_faults`` found in it.
"""

from __future__ import annotations

import argparse
import itertools
import os
import shutil
import subprocess
import sys
import tempfile
import traceback
from contextlib import suppress
from pathlib import Path

SIZES, SCALES, LOOKS = ("1920x1080", "1366x768"), (1, 2), ("light", "dark")
HERE = Path(__file__)
RESTS_S = 6


def main(words: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--only", default="", metavar="SIZE-SCALE-LOOK")
    parser.add_argument("--keys", action="store_true", help="by keys alone")
    parser.add_argument("--on-this-screen", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args(words)
    if args.on_this_screen:
        return on_this_screen(args.out, args.only.rsplit("-", 1)[1], keys=args.keys)
    combinations = [f"{size}-{scale}-{look}" for size, scale, look in itertools.product(SIZES, SCALES, LOOKS)]
    walks = [(args.only, args.keys)] if args.only else [*((one, False) for one in combinations), (combinations[4], True)]
    return max(on_a_screen_of_its_own(args.out, one, keys=keys) for one, keys in walks)


def on_a_screen_of_its_own(out: Path, combination: str, *, keys: bool) -> int:
    """One walk under Xvfb, in a process of its own."""
    size, scale, _look = combination.split("-")
    name = f"{combination}-keys" if keys else combination
    folder = out / name
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    again = [sys.executable, str(HERE), str(folder), "--only", combination, "--on-this-screen"]
    again += ["--keys"] if keys else []
    screen = ["xvfb-run", "-a", "-s", f"-screen 0 {size}x24"]
    environment = {**os.environ, "QT_QPA_PLATFORM": "xcb", "QT_SCALE_FACTOR": scale, "SIDELONG_TEST_SCREEN": "1"}
    with (folder / "said.txt").open("w") as said:
        done = subprocess.run([*screen, *again], stdout=said, stderr=subprocess.STDOUT, env=environment, check=False)
    words = "walked" if done.returncode == 0 else "STOPPED"
    print(f"== {name}: {words}", (folder / "said.txt").read_text(), sep="\n", flush=True)
    return done.returncode


def on_this_screen(out: Path, look: str, *, keys: bool) -> int:
    """The walk itself."""
    from PySide6.QtCore import QTimer
    from PySide6.QtWidgets import QFileDialog
    from real_hands import RealHands
    from seen_faults import faults_in, focus_fault, nameless
    from walked import Walk

    from gui.application import make_application
    from gui.model import keeping, selection
    from gui.shell import make_window
    from gui.tour import make_runs

    # On a busy machine the second press of Record comes late: the robot stands so long between its rounds.
    selection.ROBOT_RESTS_S = keeping.ROBOT_RESTS_S = RESTS_S
    manager = subprocess.Popen(["openbox"], stderr=subprocess.DEVNULL) if shutil.which("openbox") else None
    app = make_application()
    ended: list[int] = []

    def look_at(name: str, path: Path) -> None:
        top = app.activeModalWidget() or app.activeWindow() or window
        # The system's own way of asking for files is Qt's, not ours.
        own = [] if isinstance(top, QFileDialog) else [*faults_in(top), *(f"no name: {one}" for one in nameless(top))]
        focus = focus_fault()
        for fault in [*own, *([focus] if focus else [])]:
            print(f"{path.name}: {fault}", flush=True)

    with tempfile.TemporaryDirectory() as folder:
        make_runs(Path(folder) / "runs")
        window = make_window(Path(folder) / "settings.ini", Path(folder) / "runs", look)
        hands = RealHands(out, look_at)
        walk = Walk(window, hands)

        def over(error: BaseException | None) -> None:
            ended.append(0 if error is None else 1)
            if error is not None:
                traceback.print_exception(error)
                app.primaryScreen().grabWindow(0).save(str(out / "stopped.png"))
            for waiting in iter(app.activeModalWidget, None):
                if not waiting.close():
                    break
            window.close()
            app.quit()

        def work():  # type: ignore[no-untyped-def]
            yield from walk.by_keys() if keys else walk.by_mouse()
            QTimer.singleShot(0, lambda: over(None))

        window.ready.connect(lambda: hands.begin(work(), over))
        window.showMaximized()
        app.exec()
        for task in hands.tasks:
            print(task)
    if manager is not None:
        manager.terminate()
        with suppress(subprocess.TimeoutExpired):
            manager.wait(5)
    return max(ended, default=1)


if __name__ == "__main__":
    sys.path[:0] = [str(HERE.parents[2]), str(HERE.parent)]
    sys.exit(main(sys.argv[1:]))
