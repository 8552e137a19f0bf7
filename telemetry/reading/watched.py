"""A whole number that fails outside what a board's small integers hold, and so does all that is worked out with it."""

from __future__ import annotations

from typing import Any, Final

LIMIT: Final = 1 << 30


class OutOfRangeError(AssertionError):
    """A number that a board's 31-bit small integer does not hold, or no whole number at all."""


class Watched(int):
    """A whole number within +-2**30."""

    def __new__(cls, value: int) -> Watched:
        if not -LIMIT <= value < LIMIT:
            raise OutOfRangeError(f"{value} is outside +-2**30")
        return super().__new__(cls, value)


def _watching(name: str) -> Any:
    plain = getattr(int, name)

    def operate(self: int, *others: int) -> Any:
        value = plain(self, *others)
        if value is NotImplemented and others and isinstance(others[0], float):
            raise OutOfRangeError(f"{others[0]} is not a whole number")
        return value if value is NotImplemented else Watched(value)

    return operate


def _no_whole_number(*_: int) -> Any:
    raise OutOfRangeError("a division with '/' gives no whole number")


for _name in ("add", "sub", "mul", "floordiv", "mod", "lshift", "rshift", "and", "or", "xor"):
    setattr(Watched, f"__{_name}__", _watching(f"__{_name}__"))
    setattr(Watched, f"__r{_name}__", _watching(f"__r{_name}__"))
for _name in ("neg", "pos", "abs", "invert"):
    setattr(Watched, f"__{_name}__", _watching(f"__{_name}__"))
for _name in ("__truediv__", "__rtruediv__"):
    setattr(Watched, _name, _no_whole_number)
