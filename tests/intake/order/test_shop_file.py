"""The shop file: the first one found going up, no farther than home, provides defaults for the order; values name
it."""

from __future__ import annotations

import json
import os
import re

import pytest

from pipeline.commands.start_command import start
from pipeline.core.config.shop_tables import get_source
from pipeline.core.errors import CannotRun
from pipeline.core.fingerprint import list_cutting_values
from pipeline.cutting.cutters import build_shelf, choose_cutter, list_resolved_values, resolve_cutter
from pipeline.intake.order.order_file import read_order
from pipeline.intake.order.shop_file import find_shop_file, read_shop
from pipeline.run import run_order
from tests.order_keys import BASE, OUT, changed, to_toml, write_folder
from tests.shop_keys import SHOP, USES, VALUES, shop_keys, shop_with


@pytest.fixture
def home(tmp_path, monkeypatch):
    """Return a home folder with a folder of orders in it."""
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (tmp_path / "home/orders").mkdir(parents=True)
    return tmp_path / "home"


def small_order(folder, shop=SHOP, uses=USES):
    """Write a small order, and a shop file in the folder above it."""
    write_folder(folder, changed(BASE, uses))
    (folder / "shop.toml").unlink()
    if shop is not None:
        (folder.parent / "shop.toml").write_text(to_toml(shop), encoding="utf-8")
    return folder


# --- where it is found --------------------------------------------------------------------------------------------


def test_the_first_shop_file_going_up_is_used_and_no_other(home):
    order = home / "orders/2026/gulls"
    order.mkdir(parents=True)
    assert find_shop_file(order, home) is None
    for folder in (home.parent, home, home / "orders", order):
        (folder / "shop.toml").write_text("")
        found = find_shop_file(order, home)
        assert found == (None if folder == home.parent else folder / "shop.toml")  # never above home


def test_it_is_never_merged_with_another(home):
    (home / "shop.toml").write_text('[shop]\nname = "Far"\ncontact = "far@saltmarsh.example"\n')
    near = small_order(home / "orders/gulls", {"shop": {"name": "Near"}}, (*USES[:3],))
    order = read_order(near).order
    assert (order.proof.shop, order.proof.contact) == ("Near", "")


@pytest.mark.skipif(os.name != "posix", reason="no modes of folders here")
def test_outside_home_a_world_writable_folder_is_skipped(tmp_path):
    common, order = tmp_path / "common", tmp_path / "common/gulls"
    order.mkdir(parents=True)
    (common / "shop.toml").write_text("")
    assert find_shop_file(order, None) == common / "shop.toml"
    common.chmod(0o1777)
    assert find_shop_file(order, None) is None
    (order / "shop.toml").write_text("")
    order.chmod(0o777)
    assert find_shop_file(order, None) == order / "shop.toml"  # the order folder itself is the maker's


def test_a_link_to_the_order_folder_is_followed_before_going_up(home):
    order = small_order(home / "orders/gulls")
    (home / "desk").mkdir()
    (home / "desk/shop.toml").write_text('[shop]\nname = "Desk"\n')
    (home / "desk/gulls").symlink_to(order)
    assert read_order(home / "desk/gulls").order.proof.shop == "Saltmarsh Workshop"


# --- what it does -------------------------------------------------------------------------------------------------


def test_every_key_has_values_to_try_and_each_makes_another_shop(tmp_path):
    assert set(VALUES) == set(shop_keys())
    file = tmp_path / "shop.toml"
    for key in shop_keys():
        before, after = shop_with(key)
        read = []
        for raw in (before, after):
            file.write_text(to_toml(raw), encoding="utf-8")
            read.append(read_shop(file).config)
        assert read[0].model_dump() != read[1].model_dump() or key == "shop.language", key


def test_the_order_wins_key_by_key_and_each_value_names_its_file(home):
    folder = small_order(home / "orders/gulls", uses=(*USES, ("rates", {"hour": 50.0})))
    order = read_order(folder).order
    assert (order.rates.hour, order.rates.machine_hour) == (50.0, 21.0)
    assert get_source(order.rates, "hour") == "order.toml"
    assert get_source(order.rates, "machine_hour") == "shop.toml"
    assert get_source(order.rates, "setup").endswith("no source")
    assert get_source(order.pour, "density") == "shop.toml, [[resin]] “clear”"
    assert (order.proof.shop, order.proof.contact) == ("Saltmarsh Workshop", "bench@saltmarsh.example")
    taken = order.list_taken_values()
    assert taken["pour.layer"] == "shop.toml, [[resin]] “clear”" and "rates.hour" not in taken


def test_prices_count_only_in_the_order_s_own_currency(home):
    """An hourly rate of 33 EUR isn't one of 33 USD."""
    order = read_order(small_order(home / "orders/a", uses=(*USES, ("rates", {"currency": "USD"})))).order
    assert (order.rates.hour, order.rates.resin_price) == (None, None)
    order = read_order(small_order(home / "orders/b", uses=(*USES, ("rates", {"currency": "EUR"})))).order
    assert order.rates.hour == 33.0


def test_a_shop_file_in_inches_under_an_order_in_millimetres(home):
    inches = {"units": "in", "cutter": [{"name": "own-bit", "kind": "v-bit", "angle": 60.0, "diameter": 0.25}]}
    order = read_order(small_order(home / "orders/gulls", inches, USES[:4])).order
    assert choose_cutter(order.cutter, order.shop).diameter == pytest.approx(6.35)


def test_own_cutters_come_first_on_the_shelf_and_name_their_source(home):
    shop = {
        "cutter": [
            {"name": "vbit-60", "kind": "v-bit", "angle": 62.0},
            {"name": "mill", "kind": "end-mill", "diameter": 4.0},
        ]
    }
    uses = (
        *USES[:3],
        ("cutter", {"use": "vbit-60"}),
        ("pocket.rough", {"use": "mill"}),
        ("pocket.fine", {"use": "endmill-3"}),
    )
    folder = read_order(small_order(home / "orders/gulls", shop, uses))
    cutter = choose_cutter(folder.order.cutter, folder.order.shop)
    assert cutter.angle == 62.0 and cutter.source == "[[cutter]] “vbit-60” in shop.toml"
    assert [*build_shelf(folder.order.shop)][:2] == ["vbit-60", "mill"]
    with pytest.raises(CannotRun, match=r"no cutter “vbit-6O”.*did you mean “vbit-60”|vbit-6O"):
        read_order(small_order(home / "orders/b", shop, (("cutter", {"use": "vbit-6O"}),)), cutter=choose_cutter)


def test_the_same_values_in_either_file_make_the_same_fingerprint(home):
    """The client gets the same, wherever the maker wrote it."""
    in_shop = read_order(small_order(home / "orders/a")).order
    own = (*USES[:3], ("cutter", {"kind": "v-bit", "angle": 60.0, "tip": 0.1, "diameter": 6.0}))
    in_order = read_order(small_order(home / "orders/b", None, (*own, ("pour", {"fills": "pocket"})))).order

    def words(order):
        return list_cutting_values(order, list_resolved_values(order, *resolve_cutter(order, 19.0)))

    assert words(in_shop) == words(in_order)


def test_a_resin_missing_from_the_shop_file_is_reported(home):
    with pytest.raises(CannotRun, match=r"no shop\.toml was found"):
        read_order(small_order(home / "orders/a", None, (*USES[:3], USES[4])))
    with pytest.raises(CannotRun, match=r"no resin “claer”.*[Dd]id you mean “clear”"):
        read_order(small_order(home / "orders/b", uses=(*USES[:4], ("pour", {"use": "claer"}))))


def test_a_changed_shop_file_remakes_the_plaques_and_cached_equals_fresh(home):
    """Each step uses another value in the shop file; all outputs are as if nothing were cached."""
    folder = small_order(home / "orders/gulls", uses=(*USES[:4], *((key, OUT) for key in ("pour", "pocket", "board"))))
    steps = ["cutter.angle", "shop.name"]
    reports = []
    for key in steps:
        (folder.parent / "shop.toml").write_text(to_toml(shop_with(key)[1]), encoding="utf-8")
        kept = run_order(folder, out=home / "kept", workers=1)
        fresh = run_order(folder, out=home / "fresh", workers=1, fresh=True)
        assert kept.report == fresh.report
        names = sorted(p.name for p in (home / "fresh").iterdir() if p.is_file())
        for name in names:
            assert (home / "kept" / name).read_bytes() == (home / "fresh" / name).read_bytes(), (key, name)
        reports.append(kept.report)
    assert len({report["order"]["shop_sha256"] for report in reports}) == len(steps)
    assert reports[0]["order"]["shop_file"] == "../shop.toml"
    assert reports[0]["order"]["from_shop_file"]["proof.contact"] == "shop.toml"


# --- files made to deceive ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[shop]\nnaem = 'x'\n", r"shop.toml line 2, \[shop\], naem: there is no such key\. Did you mean “name”"),
        ("name = 'x'\n", r"it belongs under \[shop\] or \[\[cutter\]\] or \[\[resin\]\]|there is no such key"),
        ("[cutter]\nname = 'x'\n", r"write \[\[cutter\]\] with two brackets"),
        ("[[cutter]]\nname = 'x'\nkind = 'v-bit'\n", r"\[\[cutter\]\] no\. 1, angle: missing"),
        ("[[cutter]]\nname = 'x'\nkind = 'drill'\n", r'one of "v-bit"'),
        ("[[cutter]]\nname = 'x'\nkind = 'point'\ntip = 1e300\n", "at most 10,000"),
        ("[[resin]]\nname = 'a'\ndensity = nan\n", "density"),
        ("[[resin]]\nname = 'a'\n[[resin]]\nname = 'a'\n", r"2 tables \[\[resin\]\] are called “a”"),
        ("[shop]\nname = 3\n", 'write "3"'),
        ("[shop\n", r"shop.toml line 1"),
        ("x = " + "[" * 200 + "]" * 200, "are nested more than"),
        ("[shop]\nname = '" + "x" * 3000 + "'\n", "at most 2,000 characters"),
        ("#" + "x" * 2**20, "at most 1 MB"),
        ("[shop]\nlanguage = 'tlh'\n", r"shop.toml line 2, \[shop\], language: no texts in “tlh”"),
        ("[[cutter]]\nname = 'x'\nkind = 'laser'\n", r"\[\[cutter\]\] no\. 1, kerf: missing"),
    ],
)
def test_a_fault_of_the_shop_file_is_reported_with_its_place(home, text, told):
    folder = small_order(home / "orders/gulls", None, USES[:3])
    (folder.parent / "shop.toml").write_text(text)
    with pytest.raises(CannotRun, match=re.compile(told, re.I)):
        run_order(folder, out=home / "out", workers=1, files=False)


def test_shop_files_that_are_not_text_or_not_plain_files_are_refused(home):
    folder = small_order(home / "orders/gulls", None, USES[:3])
    file = folder.parent / "shop.toml"
    file.write_bytes(b"[shop]\nname = '\xff'\n")
    with pytest.raises(CannotRun, match="not UTF-8"):
        read_order(folder)
    file.unlink()
    os.mkfifo(file)
    with pytest.raises(CannotRun, match="a pipe"):
        read_order(folder)
    file.unlink()
    file.symlink_to(home / "nowhere.toml")
    with pytest.raises(CannotRun, match="cannot be read"):
        read_order(folder)


def test_faults_of_both_files_are_reported_together(home):
    folder = small_order(home / "orders/gulls", {"shop": {"naem": "x"}}, (*USES[:3], ("title", 3)))
    with pytest.raises(CannotRun) as told:
        read_order(folder)
    assert [("shop.toml" in f.where, "order.toml" in f.where) for f in told.value.faults] == [
        (True, False),
        (False, True),
    ]


def test_text_from_the_shop_file_is_shown_harmlessly(home):
    shop = {"shop": {"name": "Salt\u202emarsh\u001b[31m"}}
    folder = small_order(home / "orders/gulls", shop, (*USES[:3],))
    report = run_order(folder, out=home / "out", workers=1, files=False)
    assert "\x1b" not in report.summary and "\u202e" not in json.dumps(report.report, ensure_ascii=True)


# --- the first one ------------------------------------------------------------------------------------------------


def test_start_offers_a_first_shop_file_writes_it_and_uses_it(home):
    (home / "names.csv").write_text("Name\nAda Tern\nBo Auk\n")
    said: list[str] = []
    start(home / "names.csv", folder=home / "orders/one", say=said.append)
    assert f"plaques start --shop {home}/orders" in said[0]
    start(None, shop=home / "orders", say=said.append)
    read = read_shop(home / "orders/shop.toml")
    assert read.config.resin == () and read.config.rates.hour is None  # nothing is assumed for the shop
    with pytest.raises(CannotRun, match="already a shop file"):
        start(None, shop=home / "orders", say=said.append)
    text = (home / "orders/shop.toml").read_text().replace('units = "mm"', 'units = "in"', 1)
    (home / "orders/shop.toml").write_text(text)
    start(home / "names.csv", folder=home / "orders/two", say=said.append)
    assert "come from ../shop.toml" in said[-1]
    order = read_order(home / "orders/two").order
    assert order.units == "in" and 4.0 < order.line[0].cap_height < 9.0
    assert "../shop.toml" in (home / "orders/two/order.toml").read_text()


def test_every_line_of_the_first_shop_file_is_an_existing_key(home):
    """Commented-out lines are keys too, each in its own table."""
    start(None, shop=home, say=lambda text: None)
    text = (home / "shop.toml").read_text()
    known = set(shop_keys())
    table = ""
    for line in text.splitlines():
        bare = line.removeprefix("# ")
        if header := re.match(r"\[\[?(\w+)\]\]?", bare):
            table = f"{header[1]}."
        elif key := re.match(r"(\w+)\s*=", bare):
            assert f"{table}{key[1]}" in known, line


def test_start_without_arguments_asks_for_a_list():
    with pytest.raises(CannotRun, match="no list is named"):
        start(None, say=lambda text: None)
