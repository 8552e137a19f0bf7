"""What really stood there, as it is typed."""

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from telemetry.course import format_truth, parse_course, parse_truth
from telemetry.errors import TruthError

TEXT = """
[course]
name = "x"
[[slot]]
name = "tag 1"
group = "tags"
[[slot]]
name = "tag 2"
group = "tags"
empty_ok = true
[[slot]]
name = "crate 1"
group = "crates"
[[slot]]
name = "crate 2"
group = "crates"
[[slot]]
name = "crate 3"
group = "crates"
[[slot]]
name = "shed"
colours = ["rust", "Pink"]
[[group]]
name = "tags"
distinct = ["rust", "leaf", "sky"]
[[group]]
name = "crates"
counts = {rust = 2, leaf = 1}
"""
course = parse_course(TEXT)
TRUTH = ("rust", "sky", "leaf", "rust", "rust", "Pink")


@pytest.mark.parametrize(
    "text",
    [
        "rust,sky,leaf,rust,rust,Pink",
        " rust , sky,leaf,rust,rust, pink ",
        "tag 1=rust,tag 2=sky,crate 1=leaf,crate 2=rust,crate 3=rust,shed=Pink",
        "shed = Pink, crate 3=rust,tag 2=sky,crate 1=leaf,crate 2=rust,tag 1=rust",
    ],
)
def test_both_forms(text):
    assert parse_truth(text, course) == TRUTH


def test_empty():
    assert parse_truth("rust,empty,leaf,rust,rust,Pink", course)[1] == "empty"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "truth: is empty. Give one colour for each slot: tag 1, tag 2,"),
        ("rust", "names 1 colour, but the course has 6 slots"),
        ("rust,sky,leaf,rust,rust,Pink,", "names 7 colours, but the course has 6 slots"),
        ("rust,sky,leaf,rust,rust,plum", "slot 'shed': 'plum' cannot stand there"),
        ("rust,sky,leaf,rust,rust,pnik", "Did you mean 'Pink'?"),
        ("rust,rust,leaf,rust,rust,Pink", "rust stands in 'tag 1' and 'tag 2'. Group 'tags' has it only once."),
        ("rust,sky,leaf,leaf,rust,Pink", "leaf stands in 'crate 1' and 'crate 2'. Group 'crates' has it only once."),
        ("rust,sky,rust,rust,rust,Pink", "Group 'crates' has it only 2 times."),
        ("empty,sky,leaf,rust,rust,Pink", "slot 'tag 1': is empty, which the course does not allow"),
        (",sky,leaf,rust,rust,Pink", "slot 'tag 1': has no colour. Write 'empty' where nothing stands."),
        ("tag 1=rust,sky,leaf,rust,rust,Pink", "'sky' has no slot's name, but others do"),
        ("tga 1=rust", "there is no slot 'tga 1'. Did you mean 'tag 1'?"),
        ("tag 1=rust,tag 1=rust", "slot 'tag 1' comes twice"),
        ("tag 1=rust,tag 2=sky", "nothing is said about crate 1, crate 2, crate 3 and shed"),
    ],
)
def test_what_is_wrong_is_said(text, message):
    with pytest.raises(TruthError) as caught:
        parse_truth(text, course)
    assert message in str(caught.value)


def test_every_order_of_one_of_each_and_nothing_else():
    text = '[course]\nname="x"\n[[group]]\nname="g"\none_of_each=["a","b","c"]\n'
    small = parse_course(text + "".join(f'[[slot]]\nname="{i}"\ngroup="g"\n' for i in range(3)))
    right = 0
    for one in "abc":
        for two in "abc":
            for three in "abc":
                try:
                    parse_truth(f"{one},{two},{three}", small)
                except TruthError:
                    continue
                right += 1
    assert right == len(list(permutations("abc")))


@given(st.text("rustlefky ,=tag12 empty", max_size=60))
def test_any_text_is_a_truth_or_one_clear_error(text):
    try:
        truth = parse_truth(text, course)
    except TruthError:
        return
    assert parse_truth(format_truth(truth), course) == truth
