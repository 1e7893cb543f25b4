import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.config.placeholders import PlaceholderError, fill_placeholders, list_placeholders


def test_columns_are_found_once_and_in_order():
    assert list_placeholders("{name}, { post } {name}") == ("name", "post")
    assert list_placeholders("no columns") == ()


def test_values_go_in_as_they_are():
    filled = fill_placeholders("{name} ({post})", {"name": "Wren {x}", "post": "Warden"})
    assert filled.text == "Wren {x} (Warden)"
    assert filled.empty == ()


def test_empty_values_are_listed():
    filled = fill_placeholders("{name}, {post}", {"name": "Wren", "post": "  "})
    assert (filled.text, filled.empty, filled.nothing) == ("Wren,   ", ("post",), False)
    assert fill_placeholders("{post}", {}).nothing
    assert not fill_placeholders("Warden", {}).nothing  # a fixed line is never left out


def test_doubled_braces_are_braces():
    assert fill_placeholders("{{{name}}}", {"name": "x"}).text == "{x}"
    assert list_placeholders("{{name}}") == ()


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
        list_placeholders(text)


@given(st.text())
def test_any_text_survives_when_its_braces_are_doubled(text):
    assert fill_placeholders(text.replace("{", "{{").replace("}", "}}"), {}).text == text


@given(st.text("{}ab ", max_size=12))
def test_braces_are_read_as_the_standard_library_reads_them(text):
    try:
        parsed = list(string.Formatter().parse(text))
    except ValueError:
        parsed = [("", "", "", None)]
    columns = [field.strip() for _, field, _, _ in parsed if field is not None]
    if "" in columns:  # except those it refuses, and empty braces, which it takes for a number
        with pytest.raises(PlaceholderError):
            fill_placeholders(text, {})
    else:
        assert list(list_placeholders(text)) == list(dict.fromkeys(columns))
        assert fill_placeholders(text, {}).text == "".join(words for words, _, _, _ in parsed)


def test_a_heading_may_contain_format_characters():
    assert fill_placeholders("{Post: 2026} {Hurrah!}", {"Post: 2026": "Warden", "Hurrah!": "yes"}).text == "Warden yes"
