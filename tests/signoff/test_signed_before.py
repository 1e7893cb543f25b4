"""Orders that an earlier version signed and released: still signed, or reported with the reason, never silently
dropped.

`signed_before/` holds what that version left (commit aff502f): order, list, ledger of schema 1, cut list. Two of
three names were signed for. `plain` has its own tolerance, which codes used to cover and don't now; `covered` has a
material, which codes cover only since then.
"""

from __future__ import annotations

import ast
import json
import shutil
from pathlib import Path

import pytest

from pipeline.commands.release_command import release
from pipeline.commands.sign_command import sign
from pipeline.commands.status_command import print_status
from pipeline.commands.void import void_rows
from pipeline.core.errors import CannotRun
from pipeline.order_state import take_snapshot
from pipeline.run import run_order
from pipeline.signoff.records.ledger import Ledger, read_verified_entries

ROOT = Path(__file__).resolve().parents[2]
BEFORE = Path(__file__).parent / "signed_before"
WROTE = {"Ada Tern": "H3DJJCYM93", "Bo Auk": "KHP3T9C9DR", "Cy Kite": "NHCDR49HJY"}
"""Fingerprints as the earlier version gave them, in both orders."""


class Order:
    def __init__(self, kind: str, folder: Path) -> None:
        shutil.copytree(BEFORE / kind, folder)
        self.folder, self.said, self.seconds = folder, [], 0

    def clock(self) -> str:
        self.seconds += 1
        return f"2026-11-02T09:30:{self.seconds:02}Z"

    def release(self, **more: object) -> dict:
        release(self.folder, clock=self.clock, say=self.said.append, look=take_snapshot, as_json=True, **more)
        return json.loads(self.said[-1])

    def status(self) -> dict[str, dict]:
        print_status(self.folder, say=self.said.append, look=take_snapshot, as_json=True)
        return {p["name"]: p for p in json.loads(self.said[-1])["plaques"]}


@pytest.fixture(params=["plain", "covered"])
def order(request, tmp_path):
    return Order(request.param, tmp_path / request.param)


def test_what_an_earlier_version_signed_is_still_signed_or_told_by_name(order):
    carried = order.folder.name == "plain"
    entries = read_verified_entries(Ledger.open(order.folder))
    assert {e.text[0]: e.fingerprint for e in entries if e.kind == "answer"} == WROTE
    before = order.status()
    assert not {p["fingerprint"] for p in before.values()} & set(WROTE.values())  # all codes are different now
    report = run_order(order.folder).report
    assert report["order"]["id"] == entries[0].order_id and report["order"]["revision"] == ("A" if carried else "B")
    told = order.release()
    if carried:
        assert [(g["name"], g["pieces"], g["new"]) for g in told["released"]] == [("Ada Tern", 2, 0), ("Bo Auk", 1, 0)]
        assert [h["code"] for h in told["held"]] == ["sign.not-signed"] and told["taken_back"] == []
    else:
        assert told["released"] == []
        assert [h["code"] for h in told["held"]] == ["sign.covers-more"] * 2 + ["sign.not-signed"]
        assert all("stock.material walnut" in t["why"] for t in told["taken_back"]) and len(told["taken_back"]) == 2
        assert "stock.material walnut" in told["held"][0]["message"]
    after = read_verified_entries(Ledger.open(order.folder))
    assert after[: len(entries)] == entries
    if carried:  # recorded once: valid when the files are later made in another way, which is for the maker to accept
        file = order.folder / "order.toml"
        file.write_text(file.read_text(encoding="utf-8").replace("0.02", "0.03"), encoding="utf-8")
        assert {s["state"] for s in order.status().values()} == {"made-differently", "not-signed"}
        run_order(order.folder)
        again = order.release(accept_files=True)
        assert [(g["name"], g["pieces"], g["new"]) for g in again["released"]] == [("Ada Tern", 2, 0), ("Bo Auk", 1, 0)]
        void_rows(order.folder, "1", by="Wren Avocet", clock=order.clock, say=print)  # the paper that signed them
        assert order.release()["released"] == []
    assert len(Ledger(order.folder / "signoff-schema-1.sqlite").read_entries()) == len(entries)
    if not carried:  # the client approves what is shown now
        assert sign(order.folder, rows="2-3", by="Rowan Petrel", on="2 November", clock=order.clock, say=print) == 0
        again = order.release()
        assert [g["name"] for g in again["released"]] == ["Ada Tern", "Bo Auk"], again["held"]


def test_a_sign_off_is_not_carried_over_once_the_order_has_more(tmp_path):
    order = Order("plain", tmp_path / "order")
    file = order.folder / "order.toml"
    file.write_text(file.read_text(encoding="utf-8") + "\n[finish]\nsanded_off = 0.2\n", encoding="utf-8")
    states = order.status()
    assert {states[n]["state"] for n in ("Ada Tern", "Bo Auk")} == {"covers-more"}
    assert "finish.sanded_off 0.2" in states["Ada Tern"]["reason"]


def test_another_title_since_an_earlier_version_signed_is_another_order_until_said_otherwise(tmp_path):
    order = Order("plain", tmp_path / "order")
    file = order.folder / "order.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("2026", "2027"), encoding="utf-8")
    assert {s["state"] for s in order.status().values()} == {"other-order", "not-signed"}
    assert run_order(order.folder).report["order"]["id"] == read_verified_entries(Ledger.open(order.folder))[0].order_id
    assert order.release()["released"] == []
    assert [g["name"] for g in order.release(same_order=True)["released"]] == ["Ada Tern", "Bo Auk"]


def test_a_cut_list_of_an_earlier_version_identifies_its_ledger(tmp_path):
    order = Order("plain", tmp_path / "order")
    (order.folder / "signoff.sqlite").unlink()
    with pytest.raises(CannotRun, match=r"released/cut-list\.xlsx"):
        order.release()


def test_nothing_depends_on_asserts():
    """`python -O` removes every assert and what asks for `__debug__`: there is neither, so that nothing changes."""
    wrong = [
        f"{path}:{node.lineno}"
        for path in sorted((ROOT / "pipeline").rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Assert) or (isinstance(node, ast.Name) and node.id == "__debug__")
    ]
    assert not wrong, wrong
