"""The designs of a run: equal plaques (one fingerprint) are one design in several pieces.

They come from the outcome of a run or from its report.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.list_row import ListRow, unpack_row
from pipeline.core.model import Plaque
from pipeline.core.storage.files import read_plain


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignRow:
    """One row of the list that has this design."""

    row: ListRow
    cell: str
    copies: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One design of a run. cap_heights in mm, of the order's lines in turn; 0 for a line this design leaves out."""

    fingerprint: str
    text: tuple[str, ...]
    members: tuple[DesignRow, ...]
    cap_heights: tuple[float, ...] = ()

    @property
    def pieces(self) -> int:
        return sum(m.copies for m in self.members)

    @property
    def rows(self) -> tuple[ListRow, ...]:
        return tuple(m.row for m in self.members)

    @property
    def cells(self) -> tuple[str, ...]:
        return tuple(m.cell for m in self.members)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastRun:
    """The papers that the last run left in its output folder."""

    order_id: str
    order_sha256: str
    title: str
    client: str
    sheet: str
    revision: str
    designs: tuple[Design, ...]
    stopped: tuple[ListRow, ...]  # rows that can't be cut

    def find_design(self, fingerprint: str) -> Design | None:
        return next((d for d in self.designs if d.fingerprint == fingerprint), None)


def list_designs(plaques: Sequence[Plaque]) -> tuple[Design, ...]:
    """List the designs of these plaques in the order of the list; stopped plaques have none."""
    return _gather(
        (
            p.fingerprint,
            p.text,
            DesignRow(row=p.recipient.row, cell=p.recipient.cell, copies=p.recipient.copies),
            () if p.artwork is None else sort_by_line((x.line, x.cap_height) for x in p.artwork.lines),
        )
        for p in plaques
        if p.fingerprint and p.state != "stopped"
    )


def sort_by_line(sizes: Iterable[tuple[int, float]]) -> tuple[float, ...]:
    """Sizes of (line, size) pairs in the order of lines counted from 1, with 0 in the gaps."""
    held = dict(sizes)
    return tuple(held.get(n, 0.0) for n in range(1, max(held, default=0) + 1))


def select_lettered(text: Sequence[str]) -> tuple[str, ...]:
    """Select the lines that aren't empty: papers differ in whether they name empty ones."""
    return tuple(t for t in text if t.strip())


def _gather(found: Any) -> tuple[Design, ...]:
    texts: dict[str, tuple[tuple[str, ...], tuple[float, ...]]] = {}
    members: dict[str, list[DesignRow]] = {}
    for mark, text, member, sizes in found:
        texts.setdefault(mark, (select_lettered(text), tuple(sizes)))
        members.setdefault(mark, []).append(member)
    return tuple(
        Design(fingerprint=mark, text=text, members=tuple(members[mark]), cap_heights=sizes)
        for mark, (text, sizes) in texts.items()
    )


def read_last_run(target: Path) -> LastRun:
    """Read from its report what the last run into the folder `target` showed. CannotRun when there is none."""
    file = target / "report.json"
    try:
        report = json.loads(read_plain(file))
        order, listing = report["order"], report["list"]
        plaques = report["plaques"]
        return LastRun(
            order_id=order["id"],
            order_sha256=order["sha256"],
            title=order["title"],
            client=order["client"],
            sheet=listing["sheet"],
            revision=order["revision"],
            designs=_gather(
                (
                    p["fingerprint"],
                    p["text"],
                    DesignRow(row=unpack_row(p["row"]), cell=p["cell"], copies=p["copies"]),
                    sort_by_line((line["line"], line["cap_height"]) for line in p["lines"]),
                )
                for p in plaques
                if p["fingerprint"]
            ),
            stopped=tuple(unpack_row(p["row"]) for p in plaques if p["state"] == "stopped"),
        )
    except FileNotFoundError as error:
        fault = Fault(
            where=str(file),
            found="there is no report of a run",
            expected="the papers of the run whose proof was sent",
            remedy="run the order first, or say with --out where its output is",
        )
        raise CannotRun(fault) from error
    except (OSError, ValueError, KeyError, TypeError) as error:
        fault = Fault(
            where=str(file),
            found=f"not a report this version can read ({error})",
            expected="the report of a run",
            remedy="run the order again",
        )
        raise CannotRun(fault) from error
