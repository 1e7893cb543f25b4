"""Advice works: each way is typed into the order or the list, the order is run again, and the finding is gone.
`python -m tests.long.advice` does the same with hundreds of orders and prints the table."""

import re

import ezdxf
import openpyxl
import pytest
from openpyxl.styles import Font

from pipeline.core import catalogue
from pipeline.core.catalogue import KINDS, WAY_KINDS
from pipeline.core.findings import Edit, Severity, build_way
from pipeline.core.units import Units
from pipeline.design_advice import DesignAdvisor
from pipeline.run import run_order
from tests.advised import MadeUp, Score, list_edits, made_up, take_all


@pytest.fixture(autouse=True)
def unadvised(monkeypatch):
    """No other design is tried for faulty lines, which nothing here looks at: tests/test_design_advice.py."""
    monkeypatch.setattr(DesignAdvisor, "advise_all", lambda self, faults: faults)


SLICE = (7, 8, 11, 17)
"""Orders of the long run, by seed: eleven kinds of advice on few letters."""


def test_following_advice_resolves_the_finding(tmp_path):
    score = Score()
    for seed in SLICE:
        take_all(made_up(seed), tmp_path / "order", score, most=5)
    assert not score.wrong, "\n".join(score.wrong)
    assert sum(score.tried.values()) == sum(score.right.values()) >= 14
    assert len(score.tried) >= 11, score.table()


# --- what the catalogue promises ----------------------------------------------------------------------------------


@pytest.mark.parametrize("code", sorted(KINDS))
def test_a_remedy_says_what_to_change_or_who_has_to_act(code):
    kind = KINDS[code]
    if kind.remedy:
        assert kind.addressed or kind.edits, "a remedy in words is addressed to somebody"
    else:
        assert kind.ways, "something is to be done"
    typed = re.findall(r"\w+ = [^ ,;“…]+", kind.remedy)
    named = {edit.key for edits in kind.edits for edit in edits}
    for words in typed:
        assert words.split(" = ")[0] in named or "…" in kind.remedy, f"{words} names a value and has no edit"
    for offer in kind.ways:
        assert WAY_KINDS[offer.code] is offer


def test_advice_without_an_edit_is_addressed_to_somebody():
    for kind in WAY_KINDS.values():
        if not kind.addressed:
            assert "{" in kind.maker or "compensate" in kind.maker


def test_one_and_many_are_told_apart():
    from pipeline.core.catalogue import list_kinds, shop_kinds
    from pipeline.core.findings import build_finding

    for count, said in ((1, "1 row is hidden by it (7); it is taken"), (3, "3 rows are hidden by it (7); they are")):
        assert said in catalogue.format_message(build_finding(list_kinds.FILTERED, facts={"count": count, "rows": "7"}))
    facts = {"corners": 1, "diameter": 3.0, "area": 0.2, "radius": 1.501}
    left = build_finding(shop_kinds.CORNER_LEFT, measured=0.5, limit=0.2, unit="mm", facts=facts)
    assert catalogue.format_message(left).startswith("1 corner of the pocket stays rounder")
    assert "a radius of 1.51 mm or more" in catalogue.format_remedy(left)  # rounded to the side that helps


# --- lines that do not fit ----------------------------------------------------------------------------------------

HEAD = ["Name", "Post"]


def plain(name, cap=8.0, *, blank=None, line=None, **tables):
    design = {"text": "{name}", "face": "roboto-slab", "cap_height": cap, **(line or {})}
    order = {
        "title": "Advice",
        "list": {"file": "list.csv", "columns": {"name": "Name"}},
        "blank": {"shape": "rectangle", "width": 110.0, "height": 40.0, "margin": 4.0, **(blank or {})},
        "line": [design],
        **tables,
    }
    return MadeUp(order, [HEAD, [name, ""]])


def stops(done):
    (plaque,) = done.outcome.plaques
    return [f for f in plaque.findings if f.severity is Severity.STOP]


def test_how_much_too_long_is_exact(tmp_path):
    for cap, name in ((8.0, "Wilhelmina Featherstonehaugh-Cholmondeley"), (6.13, "Bartholomew Ashgrove-Merewether")):
        (found,) = stops(run_order(plain(name, cap).write(tmp_path / f"{cap:g}"), files=False))
        assert found.code == "fit.too-long"
        assert found.get_fact("over") == pytest.approx(
            -2 * found.get_fact("slack"), abs=0.005
        )  # centred: half on each side


def test_a_size_is_rounded_to_the_side_that_works_in_the_orders_unit(tmp_path):
    for k, width in enumerate((3.91, 4.17)):
        made = plain("Bartholomew Ashgrove-Merewether", 0.24, units="in", blank={"width": width, "height": 1.6})
        made.order["blank"]["margin"] = 0.16
        (found,) = stops(run_order(made.write(tmp_path / f"{k}"), files=False))
        (edits,) = [offer.edits for offer in found.ways if offer.code == "smallest"]
        value = edits[0].value
        assert round(value, 4) == value and f"smallest = {value:g}; now 0.24" in catalogue.format_remedy(
            found, Units("in")
        )
        assert stops(run_order(made.with_edits(edits).write(tmp_path / f"{k}-as-advised"), files=False)) == []
        more = Edit(table="line", number=1, key="smallest", value=round(value + 0.0002, 4))
        assert stops(run_order(made.with_edits((more,)).write(tmp_path / f"{k}-more"), files=False)) != []


def drawn(folder, *, hole=None, pocket=None, width=120.0, height=40.0):
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()

    def box(layer, x0, y0, x1, y1):
        space.add_lwpolyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], close=True, dxfattribs={"layer": layer})

    box("EDGE", 0, 0, width, height)
    box("LETTERING", 5, 5, width - 5, height - 5)
    if hole:
        space.add_circle(hole, 2.0, dxfattribs={"layer": "KEEP_OUT"})
    if pocket:
        box("POCKET", *pocket)
    document.saveas(folder / "blank.dxf")


def test_a_line_that_meets_a_keep_out_is_advised_a_size_that_does_not(tmp_path):
    made = plain("Ida Vex", 12.0)
    made.order["blank"] = {"drawing": "blank.dxf", "margin": 2.0}
    made.drawing = lambda folder: drawn(folder, hole=(60.0, 29.5))
    (found,) = stops(run_order(made.write(tmp_path / "as-it-is"), files=False))
    assert found.code == "fit.hits-keep-out"
    (edits,) = [offer.edits for offer in found.ways if offer.code == "smallest"]
    assert f"smallest = {edits[0].value:g}; now 12" in catalogue.format_remedy(found)
    assert stops(run_order(made.with_edits(edits).write(tmp_path / "as-advised"), files=False)) == []


def test_an_edit_that_would_cause_another_stop_is_not_advised(tmp_path):
    """Small enough to fit, its hairlines would be too fine to cut: only other ways are named."""
    made = plain("Anna and Leandra Randel-Landernand", 9.0, line={"face": "eb-garamond", "smallest": 8.5})
    made.order["limits"] = {"stroke": 0.2}
    (found,) = stops(run_order(made.write(tmp_path / "order"), files=False))
    assert found.code == "fit.too-long"
    assert "rows" in [offer.code for offer in found.ways]
    assert "smallest" not in [offer.code for offer in found.ways]
    smaller = (Edit(table="line", number=1, key="smallest", value=3.5),)
    after = stops(run_order(made.with_edits(smaller).write(tmp_path / "smaller"), files=False))
    assert [f.code for f in after] == ["stroke.too-thin"]


def test_the_report_carries_the_edits(tmp_path):
    made = plain("Maya and Teodoro Quill-Marrowdale", 8.0)
    done = run_order(made.write(tmp_path / "order"), files=False)
    (told,) = [f for f in done.report["plaques"][0]["findings"] if f["code"] == "fit.too-long"]
    first = told["ways"][0]
    assert first["edits"] == [{"table": "line", "number": 1, "key": "breaks", "value": 2}]
    assert first["words"].startswith("allow 2 lines (breaks = 2)")
    assert (first["text"], first["addressed"], told["addressed"]) == (None, None, "client")
    (finding,) = stops(done)
    assert finding.ways[0] == build_way(
        catalogue.ways.ROWS,
        Edit(table="line", number=1, key="breaks", value=2),
        facts={"rows": 2, "shown": "Maya and Teodoro / Quill-Marrowdale"},
    )


# --- the list and the shop floor ----------------------------------------------------------------------------------


def hidden(page):
    page.row_dimensions[3].hidden = True


def filtered(page):
    hidden(page)
    page.auto_filter.ref = "A1:B4"
    page.auto_filter.add_filter_column(0, ["Ida Vex"])


def struck(page):
    page["A3"].font = Font(strike=True)


def headless(page):
    page["A1"], page["B1"] = "Orla Whimbrel", "Treasurer"


def odd_heading(page):
    page["A1"], page["B1"] = "Whose is it", "Doing what"


@pytest.mark.parametrize(
    ("mark", "columns", "wanted"),
    [
        (hidden, {"name": "Name"}, {"list.row-hidden"}),
        (filtered, {"name": "Name"}, {"list.filtered", "list.row-filtered"}),
        (struck, {"name": "Name"}, {"list.row-struck"}),
        (headless, {"name": "Orla Whimbrel"}, {"list.header-unsure"}),
        (odd_heading, None, {"list.header-unsure"}),
    ],
)
def test_advice_about_the_list_works(mark, columns, wanted, tmp_path):
    def write(folder):
        book = openpyxl.Workbook()
        for row in (HEAD, ["Ida Vex", "Warden"], ["Hugo Thornwick", "Treasurer"], ["Nell Seagrave", "Warden"]):
            book.active.append(row)
        mark(book.active)
        book.save(folder / "list.xlsx")

    made = plain("", drawing=None)
    made.order.pop("drawing")
    made.order["list"] = {"file": "list.xlsx"} | ({"columns": columns} if columns else {})
    made.drawing = write
    done = run_order(made.write(tmp_path / "order"), files=False)
    found = [*done.outcome.listing.findings, *(f for p in done.outcome.plaques for f in p.findings)]
    assert wanted <= {f.code for f in found}
    for finding in found:
        for edits in list_edits(finding):
            again = run_order(made.with_edits(edits).write(tmp_path / "again"), files=False).outcome
            still = {f.code for f in (*again.listing.findings, *(f for p in again.plaques for f in p.findings))}
            assert finding.code not in still, (finding.code, edits)


@pytest.mark.parametrize(
    ("tables", "code"),
    [
        (
            {"stock": {"sawn_off": 2.0}, "pocket": {"depth": 6.0}, "pour": {"data_sheet": "Sheet 4"}},
            "stock.resin-hidden",
        ),
    ],
)
def test_advice_about_the_shop_floor_works(tables, code, tmp_path):
    made = plain("Ida Vex", 5.0, **tables)
    made.order["blank"] = {"drawing": "blank.dxf", "margin": 2.0, "thickness": 19.0}
    made.drawing = lambda folder: drawn(folder, pocket=(10.0, 45.0, 110.0, 75.0), height=80.0)
    score = Score()
    take_all(made, tmp_path / "order", score)
    assert score.right[code, "always"] and not score.wrong, score.wrong
