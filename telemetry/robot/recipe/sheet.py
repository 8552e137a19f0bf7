"""The sheet as it is handed out: the recipe of a strategy, or of the nearest one that can be said in blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from telemetry.reading.fingerprint import fingerprint
from telemetry.reading.plan import Plan
from telemetry.robot.order import ReaderOrder
from telemetry.robot.recipe.nearest import nearest
from telemetry.robot.recipe.page import recipe_html
from telemetry.robot.recipe.write import recipe_of, why_not


@dataclass(frozen=True, slots=True)
class Sheet:
    """``page``: HTML. ``plan``: what it says. ``remark``: why that is another strategy than the wanted one, else empty."""

    page: str
    plan: Plan
    remark: str

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.plan)


def sheet(order: ReaderOrder, runs: Sequence[Path] = ()) -> Sheet:
    """The sheet of what was ordered. ``runs``: recorded, to say what another strategy costs. Raises StrategyError."""
    plan, remark = order.plan, ""
    if why_not(plan):
        found = nearest(order, runs)
        plan = found.plan
        wanted = f"'{order.strategy.name}' cannot be built from blocks: {found.why}."
        same = plan.strategy.name == order.strategy.name
        instead = "It is written for the sensor's own colours instead" if same else f"Instead: '{plan.strategy.name}'"
        remark = f"{wanted} {instead}; {found.cost}."
    return Sheet(recipe_html(plan, recipe_of(plan), fingerprint(plan), remark, order.simulated), plan, remark)
