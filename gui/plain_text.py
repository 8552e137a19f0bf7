"""Text of others in the window is text: a remark that looks like markup must not load a picture.

Labels are made by ``panels.parts.Label``, which is plain text always. A tooltip has no such setting, and Qt shows what only
looks like markup as markup; so there it is escaped.
"""

from __future__ import annotations


def tip(text: str) -> str:
    """``text`` for a tooltip."""
    if not text.isprintable():
        from telemetry.safe_text import for_terminal

        text = for_terminal(text)
    if "<" not in text and "&" not in text:
        return text
    import html

    return "<qt>" + html.escape(text).replace("\n", "<br/>") + "</qt>"
