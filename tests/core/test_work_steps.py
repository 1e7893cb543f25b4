"""The order of work: what suits the job, what the maker sets, and what both mean for the face."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.core.config.order import FinishConfig
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, PocketConfig, PourConfig, StockConfig, WorkConfig
from pipeline.core.work_steps import SAID, compute_off_after_lettering, find_step_conflicts, list_steps
from pipeline.intake.order.order_file import read_order
from pipeline.shopfloor.thickness import plan_thickness
from tests.builders import folder
from tests.order_keys import BASE, changed, write_folder


def order(**tables: Any) -> Any:
    return folder(**tables).order


RESIN = {"pocket": PocketConfig(depth=8.0), "pour": PourConfig(fills="pocket")}


def test_each_step_occurs_once_whatever_the_job():
    for tables in ({}, RESIN, {"pour": PourConfig(fills="lettering")}, {"stock": StockConfig(sawn_off=2.0), **RESIN}):
        assert sorted(list_steps(order(**tables))) == sorted(SAID), tables


def test_resin_beside_the_letters_is_levelled_before_they_are_cut_and_resin_in_them_after():
    beside, inside = list_steps(order(**RESIN)), list_steps(order(pour=PourConfig(fills="lettering")))
    assert [s for s in beside if s in ("pocket", "pour", "level", "letter")] == ["pocket", "pour", "level", "letter"]
    assert [s for s in inside if s in ("mask", "letter", "pour", "level")] == ["mask", "letter", "pour", "level"]


def test_the_back_is_lettered_after_it_was_sawn_off():
    assert list_steps(order(**RESIN)).index("back") < list_steps(order(**RESIN)).index("saw")
    resawn = list_steps(order(stock=StockConfig(sawn_off=2.0), **RESIN))
    assert resawn.index("resaw") < resawn.index("back")


def test_the_maker_may_swap_steps():
    own = list_steps(order(**RESIN, work=WorkConfig(steps=("letter", "pocket", "pour", "level"))))
    assert [s for s in own if s in ("pocket", "pour", "level", "letter")] == ["letter", "pocket", "pour", "level"]
    assert own[0] == "face" and own[-1] == "pack"


def test_no_usual_order_contradicts_itself():
    size = (BoardSize(length=900.0, width=200.0),)
    for fills in ("pocket", "lettering", "both"):
        for off in (0.0, 3.0):
            made = order(
                pocket=PocketConfig(depth=8.0),
                pour=PourConfig(fills=fills),
                stock=StockConfig(sawn_off=off),
                board=BoardConfig(size=size),
            )
            assert [*find_step_conflicts(made)] == []


@pytest.mark.parametrize(
    ("steps", "first", "second"),
    [
        (("pour", "pocket"), "pour", "pocket"),
        (("letter", "level"), "letter", "level"),
        (("finish", "sand"), "finish", "sand"),
        (("letter", "face"), "letter", "face"),
    ],
)
def test_a_contradiction_is_reported(steps, first, second):
    found = [*find_step_conflicts(order(**RESIN, work=WorkConfig(steps=steps)))]
    assert (first, second) in [(c.first, c.second) for c in found]


def test_what_comes_off_after_lettering_follows_the_order_of_the_work(tmp_path):
    """By hand: 0.1 sanded and 0.3 levelled off. Usually only the sanding comes after the letters; letters cut first
    lose both; letters cut last lose nothing. The compensation follows this."""
    made = {**RESIN, "pour": PourConfig(fills="pocket", levelled_off=0.3), "finish": FinishConfig(sanded_off=0.1)}
    assert compute_off_after_lettering(order(**made)) == pytest.approx(0.1)
    assert compute_off_after_lettering(order(**made, work=WorkConfig(steps=("letter", "level")))) == pytest.approx(0.4)
    assert compute_off_after_lettering(order(**made, work=WorkConfig(steps=("sand", "letter")))) == 0.0
    edits = [
        ("finish.sanded_off", 0.1),
        ("pour.levelled_off", 0.3),
        ("work", {"steps": ["letter", "pocket", "pour", "level"]}),
    ]
    write_folder(tmp_path, changed(BASE, edits))
    read = read_order(tmp_path).order
    assert read.finish.sanded_off == pytest.approx(0.4) and read.sanding == 0.1
    assert read.finish.taken["sanded_off"].startswith("what [work]")


def test_the_chain_of_thickness_follows_it_too():
    """19 mm; 0.3 levelled, then 0.1 sanded: 18.6 are left, and of the 8 mm of resin 7.6, whenever the letters are
    cut."""
    for steps in ((), ("letter", "level")):
        made = order(
            pocket=PocketConfig(depth=8.0),
            pour=PourConfig(fills="pocket", levelled_off=0.3),
            finish=FinishConfig(sanded_off=0.1),
            stock=StockConfig(material="walnut"),
            work=WorkConfig(steps=steps),
        )
        budget, _ = plan_thickness(made, 19.0, deepest=1.0, least_groove=0.1)
        names = [s.name for s in budget.steps]
        assert (names.index("lettering cut") < names.index("resin levelled")) == bool(steps)
        assert (budget.finished, budget.resin) == pytest.approx((18.6, 7.6))


def test_a_planed_back_is_not_sanded_and_a_sawn_one_is():
    planed, _ = plan_thickness(order(**RESIN), 19.0, deepest=None, least_groove=0.1)
    assert "back sanded" not in [s.name for s in planed.steps]
    sawn = order(**RESIN, stock=StockConfig(sawn_off=2.0))
    budget, _ = plan_thickness(sawn, 19.0, deepest=None, least_groove=0.1)
    assert budget.steps[-1].name == "back sanded" and budget.finished == pytest.approx(16.6)
