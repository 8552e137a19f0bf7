"""TOML that is written comes back as it was, whatever the texts in it, and is read by the standard library's reader."""

from __future__ import annotations

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.toml_written import Said, toml_document

# TOML holds any text but half of a character.
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
VALUES = st.recursive(
    TEXTS | st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=6,
)
TABLES = st.dictionaries(TEXTS, VALUES, max_size=4)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(TEXTS, VALUES, max_size=3), TABLES, st.lists(TABLES, min_size=1, max_size=3))
def test_what_is_written_is_read(head: dict[str, object], table: dict[str, object], rows: list[dict[str, object]]) -> None:
    sections = {f"head {key}": [value] for key, value in head.items()} | {"table": table, "row": rows}
    text = toml_document(sections, about=("Made for a test.",))  # type: ignore[arg-type]
    assert tomllib.loads(text) == sections
    assert all(line.isprintable() for line in text.split("\n"))


def test_words_stand_behind_a_value_or_on_a_line_of_their_own() -> None:
    text = toml_document({"stage": [{"use": Said("hold", "it waits"), "note": Said(None, 'note = "..."')}]})
    assert text == '[[stage]]\nuse = "hold" # it waits\n# note = "..."\n'


def test_a_list_of_lists_has_a_line_for_each() -> None:
    assert toml_document({"one": {"covariance": [[1.0, 0.5], [0.5, 2.0]]}}) == (
        "[one]\ncovariance = [\n    [1.0, 0.5],\n    [0.5, 2.0],\n]\n"
    )
