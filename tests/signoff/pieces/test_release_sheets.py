"""Boards and jig loads of a release hold what has to be made now."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.commands.afterwards.mark_command import MarkRequest, mark
from pipeline.commands.release_command import release
from pipeline.commands.sign_command import sign
from pipeline.order_state import take_snapshot
from pipeline.run import run_order
from tests.signoff.test_parts import ORDER, clock

TABLES = {
    "boards": "\n[board]\nsize = [{ length = 900.0, width = 200.0 }]\n",
    "jigs": "\n[jig]\ncolumns = 3\nacross = 160.0\n",
}


def rows_on(folder: Path, name: str) -> list[tuple[str, ...]]:
    """Return row and piece of every piece named in the comments of a folder's drawings."""
    files = sorted((folder / name).glob("*.dxf"))
    return sorted(found for f in files for found in re.findall(r"row (\d+) piece (\d+) of (\d+)", f.read_text()))


@pytest.mark.parametrize("kind", ["boards", "jigs"])
def test_boards_and_jig_loads_come_with_the_release_and_hold_what_is_left(tmp_path, kind):
    said: list[str] = []
    (tmp_path / "order.toml").write_text(ORDER + TABLES[kind], encoding="utf-8")
    (tmp_path / "list.csv").write_text("Recipient\nAda Kittiwake\nBo Tern\nCy Skua\n", encoding="utf-8")
    run_order(tmp_path, workers=1)
    out = tmp_path / "out"
    assert not (out / kind).exists()  # nothing that a hurried maker could cut
    assert sign(tmp_path, rows="2-4", by="Rowan Petrel", on="2 May 2026", clock=clock, say=said.append) == 0
    assert release(tmp_path, clock=clock, say=said.append, look=take_snapshot) == 0
    released = out / "released"
    everything = [("2", "1", "1"), ("3", "1", "1"), ("4", "1", "1")]
    assert rows_on(released, kind) == everything
    mark(tmp_path, MarkRequest(what="cut", **{kind: "1"}), clock=clock, say=said.append, look=take_snapshot)
    assert "Recorded: 3 pieces" in said[-1]
    mark(tmp_path, MarkRequest(what="spoilt", rows="3"), clock=clock, say=said.append, look=take_snapshot)
    assert release(tmp_path, clock=clock, say=said.append, look=take_snapshot) == 0
    assert rows_on(released, kind) == [("3", "1", "1")]
    assert rows_on(released / "1", kind) == everything  # the previous release is unchanged
    run_order(tmp_path, workers=1)
    assert not (out / kind).exists()
