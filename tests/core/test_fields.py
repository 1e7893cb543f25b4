import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.placeholders import PlaceholderError, fill_placeholders, placeholders_in


def test_columns_are_found_once_and_in_order():
    assert placeholders_in("{name}, { post } {name}") == ("name", "post")
    assert placeholders_in("no columns") == ()


def test_values_go_in_as_they_are():
    filled = fill_placeholders("{name} ({post})", {"name": "Wren {x}", "post": "Warden"})
    assert filled.text == "Wren {x} (Warden)"
    assert filled.empty == ()


def test_what_was_empty_is_told():
    filled = fill_placeholders("{name}, {post}", {"name": "Wren", "post": "  "})
    assert (filled.text, filled.empty, filled.nothing) == ("Wren,   ", ("post",), False)
    assert fill_placeholders("{post}", {}).nothing
    assert not fill_placeholders("Warden", {}).nothing  # a fixed line is never left out


def test_doubled_braces_are_braces():
    assert fill_placeholders("{{{name}}}", {"name": "x"}).text == "{x}"
    assert placeholders_in("{{name}}") == ()


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
    with pytest.raises(PlaceholderError, match=said):
        placeholders_in(text)


@given(st.text())
def test_any_text_survives_when_its_braces_are_doubled(text):
    assert fill_placeholders(text.replace("{", "{{").replace("}", "}}"), {}).text == text
