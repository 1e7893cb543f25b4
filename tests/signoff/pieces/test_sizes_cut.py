"""New pieces have the size of those already cut, where the order wants one size for all."""

from __future__ import annotations

from pathlib import Path

from pipeline.commands.afterwards.mark_command import MarkRequest, mark
from pipeline.commands.release_command import release
from pipeline.commands.sign_command import sign
from pipeline.order_state import take_snapshot
from pipeline.run import run_order
from tests.signoff.test_parts import ORDER, clock


def sizes(order: Path) -> dict[int, float]:
    done = run_order(order, workers=1)
    return {p.recipient.row: round(p.artwork.lines[0].cap_height, 2) for p in done.outcome.plaques if p.artwork}


def test_the_size_of_finished_pieces_is_that_of_new_ones(tmp_path):
    text = ORDER.replace("eb-garamond", "noto-sans").replace(
        "cap_height = 11.0", 'cap_height = 11.0\nsmallest = 5.0\nsame_size = "all"'
    )
    (tmp_path / "order.toml").write_text(text, encoding="utf-8")
    names = "Recipient\nBartholomew Featherstone Kittiwake\nBo Tern\n"
    (tmp_path / "list.csv").write_text(names, encoding="utf-8")
    cut = sizes(tmp_path)
    assert cut[2] == cut[3] < 11.0  # the longest determines the size of both

    def say(words: str) -> None:
        """Ignore the output."""

    assert sign(tmp_path, rows="2-3", by="Rowan Petrel", on="2 May 2026", clock=clock, say=say) == 0
    assert release(tmp_path, clock=clock, say=say, look=take_snapshot) == 0
    mark(tmp_path, MarkRequest(what="delivered", rows="2-3"), clock=clock, say=say, look=take_snapshot)
    longer = "Bartholomew Featherstone Kittiwakeson"
    (tmp_path / "list.csv").write_text(f"{names}Cy Skua\n{longer}\n", encoding="utf-8")
    now = sizes(tmp_path)
    assert now[2] == now[3] == now[4] == cut[2]  # pieces that hang don't change, and a short name is set like them
    assert now[5] < cut[2]
    done = run_order(tmp_path, workers=1)
    assert [(f.row, f.line) for f in done.outcome.findings if f.code == "fit.unlike-cut"] == [(5, 1)]
    assert not [f for f in done.outcome.findings if f.code in ("fit.size-moved", "sign.cut-differs")]
