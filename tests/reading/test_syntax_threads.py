"""Trees are made by several threads at once, as in the window: each thread by itself."""

from __future__ import annotations

import ast
import threading

import pytest

from telemetry.reading import syntax


def test_two_threads_never_make_a_tree_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    real, inside, most = ast.parse, [], [0]
    meet = threading.Barrier(2)

    def slow(text: str) -> ast.Module:
        inside.append(text)
        most[0] = max(most[0], len(inside))
        meet_or_go_on.wait(0.05)
        inside.remove(text)
        return real(text)

    meet_or_go_on = threading.Event()
    monkeypatch.setattr(syntax.ast, "parse", slow)

    def make(number: int) -> None:
        meet.wait()
        syntax.parsed(f"{number}")

    threads = [threading.Thread(target=make, args=(number,)) for number in (1, 2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == [1]
