"""Values that checks measure: each is declared once, and every paper uses that declaration."""

from __future__ import annotations

import io

import openpyxl
import pytest

from pipeline.core.config.order import LimitsConfig
from pipeline.core.language.texts import load_texts
from pipeline.core.measured_values import LAND, MEASURED_VALUES, STROKE, Measurement
from pipeline.outputs.report import build_report
from pipeline.outputs.workbooks.check_sheet import check_sheet
from pipeline.reference.report_page import FIELDS
from tests import builders
from tests.languages import pseudo_catalogue, texts_of


def test_each_is_compared_with_a_limit_that_an_order_has():
    limits = {what.limit for what in MEASURED_VALUES if what.limit}
    assert limits <= LimitsConfig.model_fields.keys()


def test_names_and_headings_are_all_different_in_every_language():
    assert len({what.key for what in MEASURED_VALUES}) == len(MEASURED_VALUES)
    for texts in (load_texts("en"), texts_of(pseudo_catalogue())):
        heads = [what.format_heading(texts, "in") for what in MEASURED_VALUES if what.heading]
        assert len(set(heads)) == len(heads) and all("(in)" in head for head in heads)


def test_the_value_shown_is_the_smallest_or_where_declared_the_largest():
    several = [Measurement(name="stroke", value=0.4), Measurement(name="stroke", value=0.3, glyph="e")]
    assert STROKE.find_worst(several) == several[1]
    assert {
        what.find_worst([Measurement(name=what.key, value=v) for v in (1, 2)]).value for what in MEASURED_VALUES
    } == {
        1,
        2,
    }
    assert LAND.find_worst(several) is None and LAND.find_worst([]) is None


@pytest.fixture(scope="module")
def outcome():
    return builders.outcome()


def test_report_reference_and_check_sheet_have_each_value(outcome):
    report = build_report(outcome, builders.folder())
    line = report["plaques"][0]["lines"][0]
    heads = [
        cell.value for cell in openpyxl.load_workbook(io.BytesIO(check_sheet(outcome, builders.folder())))["Check"][1]
    ]
    for what in MEASURED_VALUES:
        assert line[what.key] is not None and f"plaques[].lines[].{what.key}" in FIELDS
        assert (f"{what.key}_place" in line) == what.placed
        assert not what.heading or what.format_heading(load_texts("en"), "mm") in heads
