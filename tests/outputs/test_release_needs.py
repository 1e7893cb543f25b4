"""Materials a release needs: resin as on the pour card, and nothing that wasn't entered."""

from __future__ import annotations

from typing import Any

from pipeline.core.config.shop_tables import PocketConfig
from pipeline.outputs.release_needs import needs_of
from pipeline.shopfloor.pour import measure_mixes
from pipeline.shopfloor.shop_plan import plan_shop
from tests.builders import KEPT, folder, outcome
from tests.shopfloor.shop_shapes import resin


def needs(**values: Any) -> tuple[dict[str, str], Any, Any]:
    order, run = folder(pocket=PocketConfig(depth=14.0), pour=resin(**values)).order, outcome()
    plan, _ = plan_shop(folder(pocket=order.pocket, pour=order.pour), run.blank, run.plaques, cache=KEPT)
    return dict(needs_of(plan, order)), plan.pour, order.pour


def test_without_a_density_there_is_no_weight_and_no_crash() -> None:
    told, pour, _ = needs(density=None, by_weight=None, by_volume=None)
    assert told["Resin, with 15 % waste, for what is to cut"] == f"{pour.with_waste:.0f} ml"


def test_waste_that_was_not_entered_is_not_claimed_as_added() -> None:
    told, *_ = needs(waste=None)
    assert "Resin, nothing added for waste, for what is to cut" in told
    assert not any("with" in name for name in told)


def test_the_total_is_the_sum_of_the_mixes_as_measured() -> None:
    told, pour, part = needs()
    mixes = measure_mixes(pour, part)
    volume, weight = (sum(m.whole for m in way) for way in (mixes.volumes, mixes.weights))
    assert told["Resin, with 15 % waste, for what is to cut"] == f"{volume:.0f} ml, or {weight:.0f} g"
