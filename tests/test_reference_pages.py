"""The reference is generated: it matches the code, and nothing in it is missing or outdated."""

import dataclasses

import pytest

from pipeline.cli import build_parsers
from pipeline.core.config.order import Order
from pipeline.core.config.order_table import OrderTable
from pipeline.core.model import DesignFault, FaultCount, ListSource
from pipeline.outputs.cut_files.dxf.template import COLOURS
from pipeline.outputs.report import build_report
from pipeline.reference.layers_page import HOLDS
from pipeline.reference.order_keys_page import list_tables, read_descriptions
from pipeline.reference.pages import FOLDER, build_pages
from pipeline.reference.report_page import FIELDS, find_missing_fields, find_unknown_fields
from tests import builders
from tests.order_keys import order_keys


@pytest.mark.parametrize("name", sorted(build_pages()))
def test_each_page_matches_the_code(name):
    written = (FOLDER / name).read_text(encoding="utf-8")
    assert written == build_pages()[name], "stale: run `python -m pipeline.reference` and commit what it writes"


def test_every_page_in_the_folder_is_generated():
    assert {path.name for path in FOLDER.glob("*.md")} == set(build_pages())


def test_every_key_of_the_order_has_a_row():
    rows = build_pages()["order-keys.md"].count("\n| `")
    tabled = [model for _, model in list_tables()]
    assert rows == sum(len(model.model_fields) for model in tabled)
    assert rows >= len(order_keys())  # those, and the keys that are tables


def test_every_key_has_a_sentence():
    for _, model in list_tables():
        for key, text in read_descriptions(model).items():
            assert text[0] in '"' or text[0].isupper(), f"{model.__name__}.{key}"
            assert text.endswith((".", "ed.")), f"{model.__name__}.{key}"


class Undocumented(OrderTable, check="size"):
    size: float = 1.0


def test_a_key_without_a_docstring_fails():
    with pytest.raises(KeyError, match="Undocumented: no docstring below size"):
        read_descriptions(Undocumented)


def test_limits_and_defaults_come_from_the_models():
    page = build_pages()["order-keys.md"]
    volume = Order.model_fields["proof"].annotation.model_fields["volume"]
    assert f"| `volume` | whole number, from 1 to 10,000 | `{volume.default}` |" in page
    assert "| `cap_height` | length, from 0.1 mm | required | design |" in page
    assert "| `feed` | length per minute, from 0.1 mm to 1,000,000 mm | `900` |" in page


def test_every_layer_has_a_row():
    assert set(HOLDS) == set(COLOURS)
    assert all(f"| {name} | {colour} |" in build_pages()["cut-file-layers.md"] for name, colour in COLOURS.items())


def test_every_command_and_option_has_a_row():
    page = build_pages()["commands.md"]
    for name, parser in build_parsers()[1].items():
        section = page.partition(f"## plaques {name}\n")[2].partition("\n## ")[0]
        options = [option for action in parser.arguments for option in action.option_strings if option.startswith("--")]
        assert section and all(f"{option}" in section for option in options if option != "--help")


def test_every_field_of_a_report_has_a_row_and_every_row_a_field():
    first, *others = builders.some_plaques()
    full = dataclasses.replace(
        first,
        also_files=("cut/a.svg",),
        proved=(("overcut", 0.01),),
        findings=(builders.smaller(5, "Ada", 4.0), builders.too_long(5, "Ada")),
    )
    drawn = dataclasses.replace(full.artwork, figures=(builders.figure(),))
    full = dataclasses.replace(full, artwork=drawn, figure_measures=(dataclasses.replace(full.measures[0], line=1),))
    outcome = builders.outcome((full, *others), findings=(builders.moved(5),))
    count = FaultCount(code="fit.too-long", rows=(5,), worst=builders.too_long(5, "Ada"))
    design = DesignFault(line=1, face="noto-sans", cap_height=5.0, faults=(count,), rows=(5,), names=("Ada",), of=1)
    late = ListSource(file="late.csv", sheet="", sha256="0" * 64, header_row=1, rows=0, columns=(("name", "A"),))
    listing = dataclasses.replace(outcome.listing, further=(late,))
    outcome = dataclasses.replace(outcome, listing=listing, faults=((7, "ZeroDivisionError"),), design=(design,))
    folder = builders.folder()
    of_shop = folder.order.proof.take_values({"shop": "Saltmarsh Workshop"}, "shop.toml")
    folder = folder.model_copy(update={"order": folder.order.model_copy(update={"proof": of_shop})})
    report = build_report(outcome, folder)
    assert find_unknown_fields(report) == set()
    rare = {field for field in FIELDS if "sizes[]" in field or "ways[]" in field or field.endswith("findings[].at[]")}
    assert find_missing_fields([report]) <= rare
    report["strange"] = {"key": 1}
    assert find_unknown_fields(report) == {"strange.key"}
