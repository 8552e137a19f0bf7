"""A capture that no window follows any more: what it recorded is kept, and what is of no use is cleared away."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from gui.model.watch import NO_TIME_US, Watch
from gui.words import tr

if TYPE_CHECKING:
    from gui.model.keeping import Keeper
    from gui.model.messages import Messages


def shown_again(watch: Watch) -> str:
    """What is said where one is followed from here on."""
    words = tr("A capture from {robot} was still running and is shown again.", robot=watch.title)
    return words + " " + tr("Its run is still being recorded.") if watch.begun_us else words


def put_in_order(watch: Watch, keeper: Callable[[], Keeper], messages: Messages) -> None:
    """Of one that is not followed. One that still captures is left alone, which is told."""
    if watch.captures:
        messages.tell(tr("Another capture, from {robot}, still runs, too.", robot=watch.title), "warn")
        return
    watch.end(None, None)
    if watch.begun_us and watch.wrote:
        kept = keeper().keep_begun(watch, NO_TIME_US)
        if kept is not None:
            words = tr("A run that was being recorded when everything ended was kept: {name}.", name=kept.name)
            messages.tell(words)
    if not watch.begun_us or not watch.wrote:
        watch.forget()
