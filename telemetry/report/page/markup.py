"""Pieces of an HTML page. Every text goes through ``text``: what a file says is shown, never taken for markup."""

from __future__ import annotations

import base64
import csv
import html
import io
from collections.abc import Iterable, Sequence

from telemetry.report.table import printable

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""The page loads nothing and runs nothing, whatever gets into it (Content Security Policy Level 3)."""

STYLE = """
:root { color-scheme: light dark; --paper: #fbf9f4; --ink: #23261f; --soft: #5d6256; --line: #d8d3c5; --card: #ffffff;
  --accent: #3f5f2c; --good: #2c6b2f; --bad: #9c2f1b; --band: #e9e4d6; }
@media (prefers-color-scheme: dark) { :root { --paper: #1d201b; --ink: #eceadf; --soft: #b3b5a8; --line: #41463c;
  --card: #262a23; --accent: #a9c98f; --good: #9bd29a; --bad: #f0a48f; --band: #33382f; } }
@media print { :root { --paper: #fff; --ink: #000; --soft: #333; --line: #999; --card: #fff; --accent: #000; --good: #000;
  --bad: #000; --band: #eee; } }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 62rem; padding: 1.2rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.5 system-ui, "Segoe UI", "Noto Sans", "DejaVu Sans", sans-serif; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0.2rem 0; } h2 { font-size: 1.2rem; margin: 2.2rem 0 0.6rem; }
h3 { font-size: 1rem; margin: 1.2rem 0 0.3rem; overflow-wrap: anywhere; }
.kicker, .note, figcaption, th { color: var(--soft); font-size: 0.9rem; }
.answer { font-size: 1.15rem; background: var(--card); border-left: 0.35rem solid var(--accent); padding: 0.8rem 1rem; }
.answer p { margin: 0.3rem 0; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; width: 100%; }
th, td { text-align: left; padding: 0.25rem 0.7rem 0.25rem 0; border-bottom: 1px solid var(--line); vertical-align: top;
  overflow-wrap: break-word; }
td { max-width: 24rem; }
th { font-weight: 600; } .right { text-align: right; white-space: nowrap; }
figure { margin: 0.8rem 0; } svg { width: 100%; min-width: 36rem; height: auto;
  background: var(--card); border: 1px solid var(--line); }
.good { color: var(--good); font-weight: 600; } .bad { color: var(--bad); font-weight: 600; }
.chip { display: inline-block; white-space: nowrap; } .chip i { display: inline-block; width: 0.9em; height: 0.9em;
  border: 1px solid var(--soft); border-radius: 0.15em; vertical-align: -0.1em; margin-right: 0.3em; }
summary { cursor: pointer; color: var(--soft); } a { color: var(--accent); }
:focus-visible { outline: 2px solid var(--accent); outline-offset: 2px; }
@media print { figure, tr, svg { break-inside: avoid; } h2, h3 { break-after: avoid; } details { display: none; }
  th, td { font-size: 0.75rem; padding-right: 0.4rem; } td:first-child { white-space: nowrap; }
  .scroll { overflow: visible; } }
"""


def text(value: object) -> str:
    """A value as text of the page: escaped, without control characters and marks that turn the direction."""
    return html.escape(printable(str(value)), quote=True)


def page(title: str, body: Iterable[str]) -> str:
    """The whole document: one file that needs no other."""
    return (
        "<!doctype html>\n"
        f'<html lang="en"><head><meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<link rel="icon" href="data:,"><title>{text(title)}</title>\n<style>{STYLE}</style></head>\n<body>\n'
        + "\n".join(body)
        + "\n</body></html>\n"
    )


def paragraph(words: object, kind: str = "") -> str:
    """A paragraph of plain text."""
    return f'<p class="{kind}">{text(words)}</p>' if kind else f"<p>{text(words)}</p>"


def table(headings: Sequence[str], rows: Iterable[Sequence[str]], right: Iterable[int] = ()) -> str:
    """A table of cells that are markup already. ``right``: the columns of numbers."""
    at_right = set(right)

    def cell(kind: str, index: int, inner: str) -> str:
        return f'<{kind} class="right">{inner}</{kind}>' if index in at_right else f"<{kind}>{inner}</{kind}>"

    head = "".join(cell("th", index, text(heading)) for index, heading in enumerate(headings))
    body = "".join("<tr>" + "".join(cell("td", i, inner) for i, inner in enumerate(row)) + "</tr>\n" for row in rows)
    return f'<div class="scroll"><table><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody></table></div>'


def chip(colour: str | None, fill: str) -> str:
    """A colour's name beside a patch of it."""
    if colour is None:
        return '<span class="chip">not read</span>'
    return f'<span class="chip"><i style="background:{fill}"></i>{text(colour)}</span>'


def _cell(value: object) -> object:
    """A text that a spreadsheet would take for a formula gets an apostrophe (OWASP, CSV injection)."""
    return "'" + value if isinstance(value, str) and value[:1] in "=+-@\t\r" and value[:1] else value


def figure(picture: str, caption: str, name: str, headings: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """A picture with what it shows as a file of comma-separated values (RFC 4180), kept in the page itself."""
    kept = io.StringIO()
    writer = csv.writer(kept)
    writer.writerow(headings)
    writer.writerows([_cell(value) for value in row] for row in rows)
    encoded = base64.b64encode(kept.getvalue().encode("utf-8")).decode("ascii")
    link = f'<a download="{text(name)}.csv" href="data:text/csv;base64,{encoded}">the data of this picture</a>'
    return f'<figure><div class="scroll">{picture}</div>' + f"<figcaption>{text(caption)} ({link})</figcaption></figure>"
