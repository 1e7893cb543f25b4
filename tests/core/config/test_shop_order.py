"""The shop floor's tables: every default that is a judgement names its source."""

from typing import Any

import pytest
from pydantic import ValidationError

from pipeline.core.config import shop_tables
from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import BoardConfig, PocketConfig, PourConfig, RatesConfig, StockConfig, get_source

TABLES = [getattr(shop_tables, n) for n in dir(shop_tables) if n.endswith("Config")]
LEAST: dict[str, Any] = {
    "title": "t",
    "list": {"file": "l.csv"},
    "blank": {"shape": "disc", "diameter": 2.0},
    "line": [{"text": "x", "face": "noto-sans", "cap_height": 0.2}],
}


@pytest.mark.parametrize("table", TABLES)
def test_every_numeric_default_names_its_source(table: Any) -> None:
    for name, field in table.model_fields.items():
        default = field.default
        is_number = isinstance(default, int | float | tuple) and not isinstance(default, bool) and default != ()
        is_number = is_number and default not in (0, 1, (0.0, 0.0))  # zero, or the one that has to be there
        if is_number:
            assert field.description, f"{table.__name__}.{name} = {default} without a source"


def test_lengths_are_converted_from_inches_and_other_numbers_are_not() -> None:
    order = Order.model_validate(
        {
            **LEAST,
            "units": "in",
            "pocket": {"depth": 0.5, "stepover": 0.4},
            "board": {"size": [{"length": 48.0, "width": 7.5, "defects": [{"at": [10.0, 2.0], "diameter": 1.0}]}]},
            "pour": {"working_time": 40.0},
        },
        context={"mm": 25.4},
    )
    assert order.pocket is not None and order.board is not None and order.pour is not None
    assert (order.pocket.depth, order.pocket.stepover) == (12.7, 0.4)
    assert order.board.size[0].length == pytest.approx(1219.2)
    assert order.board.size[0].defects[0].at == pytest.approx((254.0, 50.8))
    assert order.pour.working_time == 40.0
    assert order.board.kerf == BoardConfig.model_fields["kerf"].default  # a default is in mm whatever the order's unit


def test_an_order_without_these_tables_has_no_pocket_pour_or_board() -> None:
    order = Order.model_validate(LEAST)
    assert order.pocket is None and order.pour is None and order.board is None


def test_sources_distinguish_the_order_from_a_default() -> None:
    stated = StockConfig(faced=2.0)
    assert get_source(stated, "faced") == "order.toml"
    assert "common practice" in get_source(stated, "least_skin")


@pytest.mark.parametrize(
    ("table", "values"),
    [
        (PocketConfig, {"depth": 0.0}),
        (PocketConfig, {"depth": 5.0, "stepover": 1.5}),
        (PourConfig, {"by_weight": (100.0, 0.0)}),
        (BoardConfig, {"size": ()}),
        (RatesConfig, {"flutes": 0}),
        (StockConfig, {"colour": "dark"}),
    ],
)
def test_impossible_values_are_refused(table: Any, values: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        table(**values)
