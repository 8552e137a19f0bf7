"""Executes a recipe's lines as they are printed: what a team's blocks would do. It knows nothing of the core."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from telemetry.robot.recipe.model import Recipe

TOKEN = re.compile(r'"[^"]*"|-?\d+(?:\.\d+)?|[A-Za-z]+|[-+:]')


@dataclass
class Block:
    """One line and the lines that stand farther in below it."""

    words: list[str]
    inner: list[Block]


def blocks(lines: list[str]) -> list[Block]:
    """The lines as a tree, by their indentation."""
    out: list[Block] = []
    stack: list[tuple[int, list[Block]]] = [(-1, out)]
    for line in lines:
        depth = len(line) - len(line.lstrip())
        while stack[-1][0] >= depth:
            stack.pop()
        block = Block(TOKEN.findall(line), [])
        stack[-1][1].append(block)
        stack.append((depth, block.inner))
    return out


class Interpreter:
    """Runs a recipe sample by sample; ``shown``: (slot, colour) of every reading of the last pass."""

    def __init__(self, recipe: Recipe) -> None:
        self.values: dict[str, Any] = dict(recipe.variables)
        # Decimal numbers are exact here; a robot's may be out in the last place.
        self.lists: dict[str, list[Any]] = {
            name: [Fraction(str(one)) if isinstance(one, float) else one for one in values]
            for name, values in recipe.lists.items()
        }
        self.each, self.end = blocks(recipe.each), blocks(recipe.end)
        self.own = {name: blocks(list(lines)) for name, lines in recipe.blocks.items()}
        self.shown: list[tuple[int, str]] = []

    def sample(self, **inputs: Any) -> list[tuple[int, str]]:
        """One pass through the steps for every sample."""
        self.values.update(inputs)
        self.shown = []
        self.run(self.each)
        return self.shown

    def finish(self) -> list[tuple[int, str]]:
        """The steps for the end of the run."""
        self.shown = []
        self.values["COLOUR"] = "nothing"
        self.run(self.end)
        return self.shown

    def run(self, body: list[Block]) -> None:
        taken = True
        for block in body:
            words = block.words
            if words[0] == "if":
                taken = self.holds(words[1:])
                if taken:
                    self.run(block.inner)
            elif words[0] == "otherwise":
                if not taken:
                    self.run(block.inner)
            elif words[:2] == ["repeat", "while"]:
                for _ in range(10_000):
                    if not self.holds(words[2:]):
                        break
                    self.run(block.inner)
                else:
                    raise AssertionError(f"never ends: {words}")
            elif words[:2] == ["repeat", "with"]:
                at = words.index("to")
                for value in range(self.value(words[4:at]), self.value(words[at + 1 :]) + 1):
                    self.values[words[2]] = value
                    self.run(block.inner)
            else:
                self.do(words)

    def do(self, words: list[str]) -> None:
        kind = words[0]
        if kind == "set":
            at = words.index("to")
            self.values[" ".join(words[1:at])] = self.value(words[at + 1 :])
        elif kind == "change":
            at = words.index("by")
            self.values[" ".join(words[1:at])] += self.value(words[at + 1 :])
        elif kind == "add":
            at = words.index("to")
            self.lists[self.list_name(words[at + 1 :])].append(self.value(words[1:at]))
        elif words[:3] == ["delete", "the", "first"]:
            at = words.index("from")
            self.lists[self.list_name(words[at + 1 :])].remove(self.value(words[3:at]))
        elif words[:2] == ["delete", "item"]:
            at = words.index("of")
            del self.lists[self.list_name(words[at + 1 :])][self.value(words[2:at]) - 1]
        elif kind == "empty":
            self.lists[self.list_name(words[1:])].clear()
        elif words[:2] == ["replace", "item"]:
            at, end = words.index("of"), words.index("with")
            self.lists[self.list_name(words[at + 1 : end])][self.value(words[2:at]) - 1] = self.value(words[end + 1 :])
        elif kind == "do":
            self.run(self.own[words[1]])
        elif words[:2] == ["show", "slot"]:
            at = words.index(":")
            self.shown.append((self.value(words[2:at]), self.value(words[at + 1 :])))
        else:
            raise AssertionError(f"not a step: {words}")

    def list_name(self, words: list[str]) -> str:
        assert words[0] == "list", words
        return " ".join(words[1:])

    def holds(self, words: list[str]) -> bool:
        """A condition; what is joined by 'and' or 'or' is looked at from the left, only as far as needed."""
        if "or" in words:
            at = words.index("or")
            return self.holds(words[:at]) or self.holds(words[at + 1 :])
        if "and" in words and not self._distance(words):
            at = words.index("and")
            return self.holds(words[:at]) and self.holds(words[at + 1 :])
        # The last 'is' compares: 'how often E is in list L is above ...' has one of its own.
        places = [k for k, word in enumerate(words) if word == "is" and words[k + 1 : k + 3] != ["in", "list"]]
        if not places or (words[0] != "how" and words[places[0] :][:3] == ["is", "not", "in"]):
            at = words.index("is")
            inside = self.value(words[:at]) in self.lists[self.list_name(words[words.index("in", at) + 1 :])]
            return not inside if words[at + 1] == "not" else inside
        at = places[0]
        left, rest = self.value(words[:at]), words[at + 1 :]
        for said, compare in (
            (["above"], lambda a, b: a > b), (["below"], lambda a, b: a < b), (["at", "least"], lambda a, b: a >= b),
            (["at", "most"], lambda a, b: a <= b), (["not"], lambda a, b: a != b), ([], lambda a, b: a == b),
        ):  # fmt: skip
            if rest[: len(said)] == said:
                return bool(compare(left, self.value(rest[len(said) :])))
        raise AssertionError(words)

    @staticmethod
    def _distance(words: list[str]) -> bool:
        return words[:3] == ["the", "distance", "between"]

    def value(self, words: list[str]) -> Any:
        if self._distance(words):
            at = words.index("and")
            return abs(self.value(words[3:at]) - self.value(words[at + 1 :]))
        if words[:2] == ["how", "often"]:
            at = max(k for k in range(len(words) - 1) if words[k : k + 2] == ["is", "in"])
            return self.lists[self.list_name(words[at + 2 :])].count(self.value(words[2:at]))
        if words[:2] == ["length", "of"]:
            return len(self.lists[self.list_name(words[2:])])
        if words[0] == "item":
            at = words.index("of")
            return self.lists[self.list_name(words[at + 1 :])][self.value(words[1:at]) - 1]
        for sign, work in (("+", lambda a, b: a + b), ("-", lambda a, b: a - b), ("x", lambda a, b: a * b)):
            if sign in words:
                at = words.index(sign)
                return work(self.value(words[:at]), self.value(words[at + 1 :]))
        if len(words) == 1 and words[0].startswith('"'):
            return words[0][1:-1]
        name = " ".join(words)
        if re.fullmatch(r"-?\d+", name):
            return int(name)
        if re.fullmatch(r"-?\d+\.\d+", name):
            return Fraction(name)
        return self.values[name]
