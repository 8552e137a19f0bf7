"""Machine code made by another process: the compiler holds the interpreter for seconds, half a minute for evidence, in which
this one would answer neither Ctrl-C nor the window. The other keeps what it made, and this one loads it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from telemetry.errors import EXIT_OK
from telemetry.own_program import MAKE_CODE, own_command
from telemetry.reading.compiled import could_be_kept, function_of

LOOK_S = 0.1


def make_apart(source: str, name: str, arrays: Sequence[NDArray[Any]], waiting: Callable[[], None]) -> None:
    """Have the machine code of ``name`` in this source made for such arrays, unless it is there or cannot be kept.

    ``waiting`` is called meanwhile; what it raises ends the other process. Where that fails, this one makes the code when it
    is needed.
    """
    if not could_be_kept(source, name):
        return
    waiting()
    kinds = [[one.dtype.name, one.ndim] for one in arrays]
    root, before = str(Path(__file__).parents[2]), os.environ.get("PYTHONPATH", "")
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([root, before] if before else [root])}
    process = subprocess.Popen(
        own_command([MAKE_CODE]), stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env=environment, creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )  # fmt: skip
    try:
        assert process.stdin is not None
        with suppress(OSError):  # it has died: its code says so
            process.stdin.write(json.dumps([source, name, kinds]).encode())
            process.stdin.close()
        while process.poll() is None:
            waiting()
            with suppress(subprocess.TimeoutExpired):
                process.wait(LOOK_S)
    finally:
        process.kill()
        process.wait()


def serve() -> int:
    """The other process: makes what is asked for on standard input, and ends."""
    source, name, kinds = json.loads(sys.stdin.buffer.read())
    function = function_of(source, name)
    from numba import types

    function.compile(tuple(types.Array(getattr(types, kind), dimensions, "C") for kind, dimensions in kinds))
    return EXIT_OK
