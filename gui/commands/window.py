"""``sidelong window`` (or ``sidelong`` alone): open the window."""

from __future__ import annotations

import argparse
from pathlib import Path


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "files", nargs="*", type=Path, metavar="FILE", help="a recording, a saved stream, a course or a palette"
    )
    parser.add_argument("--folder", type=Path, metavar="FOLDER", help="where runs are kept (default: the one used last)")
    parser.add_argument("--settings", type=Path, metavar="FILE", help="keep the window's settings in this file")
    parser.add_argument("--look", choices=("light", "dark", "system"), help="light or dark (default: as last time)")


def run(args: argparse.Namespace) -> int:
    from gui.application import make_application, quit_on_interrupt
    from telemetry.logbook import begin_log

    begin_log()

    app = make_application()
    from gui.opening import open_paths
    from gui.shell import make_window

    window = make_window(args.settings, args.folder, args.look)
    ticker = quit_on_interrupt(app)
    window.show()
    if args.files:
        window.ready.connect(lambda: open_paths(window.workspace, [str(path) for path in args.files]))
    code: int = app.exec()
    if ticker is not None:
        ticker.stop()
    return code
