"""Arrays that grow at their end, and may be made anew at their beginning."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


class Growing:
    """An array with room at its end; ``view`` is the part in use."""

    def __init__(self, dtype: type[np.generic] = np.float64) -> None:
        self._room: NDArray[np.generic] = np.empty(4096, dtype=dtype)
        self.used = 0

    def make_room(self, rows: int) -> None:
        """For so many more values."""
        need = self.used + rows
        if need > len(self._room):
            bigger = np.empty(max(need, 2 * len(self._room)), dtype=self._room.dtype)
            bigger[: self.used] = self._room[: self.used]
            self._room = bigger

    def extend(self, values: NDArray[np.generic]) -> None:
        self.make_room(len(values))
        need = self.used + len(values)
        self._room[self.used : need] = values
        self.used = need

    def begin_with(self, first: NDArray[np.generic], replaced: int) -> None:
        """``first`` in place of so many values at its beginning; views handed out before keep theirs."""
        rest = self.view[replaced:]
        self._room = np.empty_like(self._room)  # as roomy as before: what comes and goes takes no more each time
        self.used = len(first) + len(rest)
        self._room[: len(first)], self._room[len(first) : self.used] = first, rest

    @property
    def view(self) -> NDArray[np.generic]:
        return self._room[: self.used]
