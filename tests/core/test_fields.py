import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.fields import BadFields, fields_of, fill


def test_columns_are_found_once_and_in_order():
    assert fields_of("{name}, { post } {name}") == ("name", "post")
    assert fields_of("no columns") == ()


def test_values_go_in_as_they_are():
    filled = fill("{name} ({post})", {"name": "Wren {x}", "post": "Warden"})
    assert filled.text == "Wren {x} (Warden)"
    assert filled.empty == ()


def test_what_was_empty_is_told():
    filled = fill("{name}, {post}", {"name": "Wren", "post": "  "})
    assert (filled.text, filled.empty, filled.nothing) == ("Wren,   ", ("post",), False)
    assert fill("{post}", {}).nothing
    assert not fill("Warden", {}).nothing  # a fixed line is never left out


def test_doubled_braces_are_braces():
    assert fill("{{{name}}}", {"name": "x"}).text == "{x}"
    assert fields_of("{{name}}") == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{name", "character 1 is never closed"),
        ("a}", "character 2 closes"),
        ("{ }", "name no column"),
        ("{a{b}}", "never closed"),
    ],
)
def test_braces_that_do_not_pair_up(text, said):
    with pytest.raises(BadFields, match=said):
        fields_of(text)


@given(st.text())
def test_any_text_survives_when_its_braces_are_doubled(text):
    assert fill(text.replace("{", "{{").replace("}", "}}"), {}).text == text
