"""The limit: what a recording has to give. An offline decoder that uses all of it; a robot can at best equal it.

It finds the most probable combination of light, height, wear, spot, distance error, each slot's own offset and colours,
under the rules of the groups, exactly over the grids of model.py (branch and bound: what cannot beat the best found is
left out). Where a course gives no places or the robot no distance, slots are taken where the most probable path of gaps,
slots and colours (order.py) has them. It asks no strategy: what strategies are measured by must not lean on one.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.course import EMPTY, Course, GroupRule, Truth
from telemetry.replay.limit.assign import NEVER, best_colours
from telemetry.replay.limit.model import GRID_CM, OWN_OFF_CM

Floats = NDArray[np.float64]

WRONG, OFF_CM = 0.06, 2.5
"""Deviations of the distance's factor and of the start that are expected beforehand."""
FACTORS = np.linspace(0.86, 1.14, 21)
STARTS_CM = np.arange(-6.0, 6.01, 0.4)
SPREAD_CM = 0.45


@dataclass(frozen=True, slots=True)
class LegTable:
    """One leg of one sensor: for each of its ``slots`` the scores (thetas, centres, colours) and the first centre, cm.

    ``at_cm``: the slots' places by the course, None where the place is known (one centre, no distance error).
    """

    slots: tuple[int, ...]
    scores: tuple[Floats, ...]
    first_cm: tuple[float, ...]
    at_cm: tuple[float, ...] | None
    decoys: tuple[tuple[float, float, Floats], ...] = ()
    """Place by the course, first centre (cm) and scores (thetas, centres) of what stands on the way but is no marker."""


@dataclass(frozen=True, slots=True)
class Found:
    """One explanation: its log-likelihood against an empty field (nats), the colours (index, 0 nothing; -1 not passed), the
    combination of nuisances, and factor and start of the distance on each leg.
    """

    total: float
    colours: tuple[int, ...]
    theta: int
    distances: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Rules:
    """The course's rules as best_colours takes them; ``allowed`` (slots, colours) of 0 and NEVER; ``passed``: not unseen."""

    group: list[int]
    pools: list[list[int] | None]
    bare: list[bool]
    allowed: Floats
    passed: list[bool]

    @classmethod
    def of(cls, course: Course, names: Sequence[str], colours: int) -> Rules:
        """The rules of ``course`` for ``names[:colours]``."""
        allowed = np.full((len(course.slots), colours), NEVER)
        pools: list[list[int] | None] = []
        for group in course.groups:
            items = [names.index(colour) for colour in group.colours]
            if group.rule in {GroupRule.COUNTS, GroupRule.ONE_OF_EACH} and group.counts:
                items = [item for item, count in zip(items, group.counts, strict=True) for _ in range(count)]
            pools.append(None if group.rule is GroupRule.ANY else items)
        for i, slot in enumerate(course.slots):
            allowed[i, [names.index(colour) for colour in course.groups[slot.group].colours]] = 0.0
            if slot.empty_ok:
                allowed[i, 0] = 0.0
        bare = [slot.empty_ok for slot in course.slots]
        return cls([slot.group for slot in course.slots], pools, bare, allowed, [not slot.unseen for slot in course.slots])


def loosened(scores: Floats, most_cm: float = OWN_OFF_CM) -> Floats:
    """Scores (thetas, centres, colours) where each slot may lie a little off on its own: the best shift at its price."""
    steps = round(most_cm / GRID_CM)
    best = scores.copy()
    for step in range(1, steps + 1):
        price = (step * GRID_CM / SPREAD_CM) ** 2 / 2.0
        if step < scores.shape[1]:
            np.maximum(best[:, step:], scores[:, :-step] - price, out=best[:, step:])
            np.maximum(best[:, :-step], scores[:, step:] - price, out=best[:, :-step])
    return best


class Search:
    """The search over everything at once. ``costs`` (thetas,): nats each combination of nuisances costs beforehand."""

    def __init__(self, rules: Rules, legs: Sequence[LegTable], costs: Floats) -> None:
        self.rules = rules
        self.legs = [leg for leg in legs if leg.slots]
        self.costs = costs
        self.distances: list[list[tuple[float, float]]] = []
        self.prices: list[Floats] = []
        self.places: list[list[NDArray[np.int64]]] = []
        self.extras: list[Floats | None] = []
        for leg in self.legs:
            self._hypotheses(leg)

    def _hypotheses(self, leg: LegTable) -> None:
        if leg.at_cm is None:
            self.distances.append([(1.0, 0.0)])
            self.prices.append(np.zeros(1))
            self.places.append([np.zeros(1, dtype=np.int64) for _ in leg.slots])
            self.extras.append(None)
            return
        factor, start = (grid.ravel() for grid in np.meshgrid(FACTORS, STARTS_CM, indexing="ij"))
        self.distances.append([(float(a), float(b)) for a, b in zip(factor, start, strict=True)])
        self.prices.append(((factor - 1.0) / WRONG) ** 2 / 2.0 + (start / OFF_CM) ** 2 / 2.0)
        places = []
        for at, first, scores in zip(leg.at_cm, leg.first_cm, leg.scores, strict=True):
            index = np.round(((at + start) * factor - first) / GRID_CM).astype(np.int64)
            places.append(np.clip(index, 0, scores.shape[1] - 1))
        self.places.append(places)
        extra = np.zeros((len(self.costs), len(factor)))
        for at, first, scores in leg.decoys:
            index = np.round(((at + start) * factor - first) / GRID_CM).astype(np.int64)
            extra += scores[:, np.clip(index, 0, scores.shape[1] - 1)]
        self.extras.append(extra)

    def _priced(self, number: int) -> Floats:
        """(thetas, hypotheses): what a leg's hypotheses bring without its slots: their price, and decoys explained."""
        extra = self.extras[number]
        price = -np.repeat(self.prices[number][None], len(self.costs), axis=0)
        return price if extra is None else price + extra

    def _bounds(self, leg_number: int) -> Floats:
        """(thetas, hypotheses): the leg's score if every slot could have its best colour."""
        leg = self.legs[leg_number]
        total = self._priced(leg_number)
        for slot, scores, place in zip(leg.slots, leg.scores, self.places[leg_number], strict=True):
            total += (scores + self.rules.allowed[slot]).max(axis=2)[:, place]
        return total

    def best(self) -> Found:
        """The most probable explanation."""
        bounds = [self._bounds(number) for number in range(len(self.legs))]
        peaks = [bound.max(axis=1) for bound in bounds]
        top = np.sum(peaks, axis=0) - self.costs if bounds else -self.costs
        found = Found(-np.inf, (), 0, ())
        for theta in np.argsort(-top):
            if top[theta] <= found.total:
                break
            total, chosen = -float(self.costs[theta]), [0] * len(self.legs)
            open_peaks = float(sum(peak[theta] for peak in peaks))
            for cluster in self._clusters():
                open_peaks -= float(sum(peaks[number][theta] for number in cluster))
                floor = found.total - total - open_peaks
                score, picked = self._best_of(cluster, [bounds[number][theta] for number in cluster], int(theta), floor)
                total += score
                for number, place in zip(cluster, picked, strict=True):
                    chosen[number] = place
                if total + open_peaks <= found.total:
                    break
            else:
                colours = best_colours(self.fits(int(theta), chosen), *self._rules())[1]
                distances = tuple(self.distances[number][place] for number, place in enumerate(chosen))
                found = Found(total, tuple(colours), int(theta), distances)
        return found

    def _rules(self) -> tuple[list[int], list[list[int] | None], list[bool]]:
        return self.rules.group, self.rules.pools, self.rules.bare

    def _clusters(self) -> list[list[int]]:
        """Legs whose slots share a group must be decided together; the others need not."""
        clusters: list[tuple[set[int], list[int]]] = []
        for number, leg in enumerate(self.legs):
            groups = {self.rules.group[slot] for slot in leg.slots}
            numbers = [number]
            for other in [one for one in clusters if one[0] & groups]:
                clusters.remove(other)
                groups |= other[0]
                numbers = other[1] + numbers
            clusters.append((groups, numbers))
        return [numbers for _, numbers in clusters]

    def _best_of(self, cluster: list[int], bounds: list[Floats], theta: int, floor: float) -> tuple[float, list[int]]:
        """The best hypotheses for some legs together; nothing below ``floor`` is of interest. Best first, so exact."""
        orders = [np.argsort(-bound) for bound in bounds]
        ranked = [bound[order] for bound, order in zip(bounds, orders, strict=True)]
        start = (0,) * len(cluster)
        heap = [(-float(sum(row[0] for row in ranked)), start)]
        done = {start}
        best, picked = floor, [int(order[0]) for order in orders]
        found = False
        while heap:
            bound, places = heapq.heappop(heap)
            if -bound <= best:
                break
            chosen = [int(order[place]) for order, place in zip(orders, places, strict=True)]
            score = self._constrained(cluster, theta, chosen)
            if score > best:
                best, picked, found = score, chosen, True
            for k, place in enumerate(places):
                following = (*places[:k], place + 1, *places[k + 1 :])
                if place + 1 < len(ranked[k]) and following not in done:
                    done.add(following)
                    heapq.heappush(heap, (-float(sum(row[p] for row, p in zip(ranked, following, strict=True))), following))
        return (best if found else -np.inf), picked

    def _constrained(self, cluster: list[int], theta: int, chosen: list[int]) -> float:
        fit = self.rules.allowed.copy()
        groups: set[int] = set()
        gain = 0.0
        for number, place in zip(cluster, chosen, strict=True):
            leg = self.legs[number]
            extra = self.extras[number]
            gain += (0.0 if extra is None else float(extra[theta, place])) - float(self.prices[number][place])
            for slot, scores, places in zip(leg.slots, leg.scores, self.places[number], strict=True):
                fit[slot] += scores[theta, places[place]]
                groups.add(self.rules.group[slot])
        group = [number if number in groups else -1 for number in self.rules.group]
        return best_colours(fit, group, self.rules.pools, self.rules.bare)[0] + gain

    def fits(self, theta: int, chosen: Sequence[int]) -> Floats:
        """(slots, colours) under one combination and one hypothesis a leg; 0 where a slot was never passed."""
        fit = self.rules.allowed.copy()
        for number, leg in enumerate(self.legs):
            for slot, scores, place in zip(leg.slots, leg.scores, self.places[number], strict=True):
                fit[slot] += scores[theta, place[chosen[number]]]
        return fit

    def margins(self, found: Found) -> tuple[float, ...]:
        """For each slot how much (nats) the whole loses if another colour must stand there, under the same nuisances."""
        chosen = [self.distances[number].index(distance) for number, distance in enumerate(found.distances)]
        fit = self.fits(found.theta, chosen)
        whole = best_colours(fit, *self._rules())[0]
        out = []
        for slot, colour in enumerate(found.colours):
            other = fit.copy()
            other[slot, colour] = NEVER
            out.append(min(whole - best_colours(other, *self._rules())[0], 1000.0))
        return tuple(out)

    def score_of(self, colours: Sequence[int]) -> float:
        """The log-likelihood of given colours (-1: not said), the nuisances and distances that suit them best."""
        total = -self.costs.copy()
        for number, leg in enumerate(self.legs):
            part = self._priced(number)
            for slot, scores, place in zip(leg.slots, leg.scores, self.places[number], strict=True):
                if colours[slot] >= 0:
                    part += scores[:, place, colours[slot]]
            total += part.max(axis=1)
        return float(total.max())


def colours_of(truth: Truth, names: Sequence[str]) -> tuple[int, ...]:
    """A truth as indices; -1 for a colour that is not among ``names``."""
    return tuple(0 if colour == EMPTY else names.index(colour) if colour in names else -1 for colour in truth)
