"""Values as papers state them, with their sources."""

from pipeline.core.stated_values import StatedValue, replace_stated, state


def read_text(text: str) -> str:
    """Return the text without its source marks."""
    return replace_stated(text, get_text)


def get_text(value: StatedValue) -> str:
    return value.text


def test_private_use_characters_in_foreign_text_are_harmless():
    text = "\ue0f0" + state("3\ue0f1\ue0f2 mm", "the \ue0f0bit") + " of \ue0f2A\ue0f1"
    assert read_text(text) == "3 mm of A"
    assert replace_stated(text, lambda value: f"{value.text} ({value.origin})") == "3 mm (the bit) of A"
    assert state("\ue0f1", "the order") == ""
    assert read_text(state("2 mm", "\ue0f0")) == "2 mm"
