"""Which run is opened: its name, its course, and what was noted with it."""

from __future__ import annotations

from gui.model.opened_run import OpenedRun
from gui.panels.elided import Elided
from gui.panels.parts import Label
from gui.words import tr


def run_heading(run: OpenedRun) -> list[Label]:
    """The labels, from left to right."""
    meta, course = run.recording.meta, run.recording.course
    noted = [meta.light, f"{meta.height_mm:g} mm" if meta.height_mm else "", meta.battery, meta.remarks]
    noted += [f"! {words}" for words in run.recording.damage[:1]]
    return [
        Elided(meta.name or run.path.stem, "large"),
        *([Label(tr("simulated"), "chip")] if meta.simulated else []),
        Elided(course.name if course is not None else tr("no course"), "chip"),
        Elided(" · ".join(word for word in noted if word)),
    ]
