"""How a source that reconnects by itself (BLE, serial) says where in the stream the link was away.

``read`` raises it in order: every byte from before the drop has been returned by then, no byte from after it.
Whoever records writes a mark and calls ``read`` again; whoever does not know it ends as with any broken link.
"""

from __future__ import annotations

from typing import Literal

from telemetry.errors import LinkError


class LinkChange(LinkError):  # noqa: N818 - news about the link, an error only to those who do not know it
    """The link dropped and is being sought again (``kind`` "dropped"), or is there again ("back").

    Between the two ``read`` returns ``b""``. Giving up is a plain LinkError. ``away_s`` is how long it was
    away: 0 when dropped.
    """

    def __init__(self, kind: Literal["dropped", "back"], what: str, *, where: str = "", away_s: float = 0.0) -> None:
        super().__init__(what, where=where)
        self.kind = kind
        self.away_s = away_s
