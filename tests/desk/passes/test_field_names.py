"""A field's name is written and read by one grammar."""

import re
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.desk.passes.field_names import (
    GRAMMAR,
    MEASURES,
    WORDS,
    BranchField,
    FieldName,
    PlacementField,
    ReadingField,
    WordsField,
    parse,
)
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry

IDS = st.integers(1, 10**15 - 1)
NAMES = st.one_of(
    st.builds(WordsField, st.sampled_from(WORDS)),
    st.builds(ReadingField, IDS, IDS),
    st.builds(PlacementField, IDS, st.sampled_from(MEASURES)),
    st.builds(BranchField, IDS),
)


@given(NAMES)
def test_what_is_written_is_read_as_the_same(name: FieldName) -> None:
    assert parse(str(name)) == name


@given(st.one_of(st.text(max_size=40), st.from_regex(GRAMMAR, fullmatch=True), st.from_regex(GRAMMAR)))
def test_what_is_read_is_written_as_it_was(text: str) -> None:
    name = parse(text)
    assert (name is None) == (re.fullmatch(GRAMMAR, text) is None)
    assert name is None or str(name) == text, "one field has one name"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "revision",
        "control-1",
        "control-0-1",
        "control-01-1",
        "control-1-x",
        "control-1-2-3",
        "control-²-1",
        "placement-1",
        "placement-1-colour",
        "branch-",
        "branch-1-2",
        "Title",
        "title\n",
        "branch-" + "9" * 16,
    ],
)
def test_what_is_no_field_has_no_name(text: str) -> None:
    assert parse(text) is None


def test_the_grammar_names_all_that_the_form_holds() -> None:
    assert tuple(field.name for field in fields(PlacementEntry)) == MEASURES
    assert set(WORDS) <= {field.name for field in fields(PassEntry)}
