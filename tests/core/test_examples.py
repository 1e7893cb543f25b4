"""Every kind of finding has an example with which all its texts can be rendered."""

import re

import pytest

from pipeline.core.catalogue import KINDS, WAY_KINDS, format_for_client, format_message, format_remedy
from pipeline.core.catalogue.examples import build_example_way, build_examples
from pipeline.core.findings import render, render_way
from pipeline.core.units import MM, Units


def test_every_kind_has_an_example_and_no_other_code_has():
    assert list(build_examples()) == [code for code in build_examples() if code in KINDS]
    assert set(build_examples()) == set(KINDS)


@pytest.mark.parametrize("units", [MM, Units("in")], ids=["mm", "inch"])
@pytest.mark.parametrize("code", sorted(KINDS))
def test_every_word_of_a_kind_reads_without_blanks(code, units):
    kind, example = KINDS[code], build_examples()[code]
    assert example.severity == kind.severity
    said = [format_message(example, units), render(kind.why, example, units), format_remedy(example, units)]
    said += [render(kind.source, example, units)] if kind.source else []
    if kind.client:
        said.append(format_for_client(example, units))
    for text in said:
        assert text and not re.search(r"[{}‹›]|  |\bNone\b", text)


@pytest.mark.parametrize("kind", WAY_KINDS.values(), ids=lambda kind: kind.code)
def test_every_way_reads_without_blanks(kind):
    for template in filter(None, (kind.maker, kind.client)):
        assert not re.search(r"[{}‹›]|  |\bNone\b", render_way(template, [build_example_way(kind)]))


def test_a_missing_fact_is_found():
    kind = KINDS["list.repeated"]
    with pytest.raises(KeyError, match="rows"):
        render(kind.message, build_examples()["list.row-hidden"])
