"""The inputs of a run: order, blank, list, and the requested rows."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.artwork.client_artwork import ClientArtwork, read_client_artwork
from pipeline.core.config.order import OrderFolder
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding
from pipeline.core.model import Blank, Recipient, RecipientList
from pipeline.core.row_selection import RowSelection, require_known_lists
from pipeline.core.storage.cache import Cache, find_default_folder
from pipeline.cutting.cutters import choose_cutter
from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.read_list import read_list
from pipeline.lettering.shelf import Shelf
from pipeline.signoff.pieces.sizes_cut import find_sizes_cut
from pipeline.signoff.records.job_identity import apply_stored_code
from pipeline.signoff.records.ledger import Ledger


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderInputs:
    """Everything that was read before anything is set."""

    folder: OrderFolder
    blank: Blank
    listing: RecipientList
    client: ClientArtwork  # the client's drawings
    findings: tuple[Finding, ...]  # about the blank
    chosen: tuple[Recipient, ...]  # the recipients of this run
    part: str  # their rows, as `4-20,31`; empty for the whole list
    target: Path  # the output folder
    whole_target: Path  # output folder of a run of the whole list
    cache: Cache  # what is kept between runs
    sizes_cut: tuple[
        tuple[int, float], ...
    ] = ()  # line number -> cap height of finished pieces, which new ones have to match


def read_inputs(
    order: str | Path,
    out: Path | None = None,
    *,
    only: RowSelection | None = None,
    named: str = "",
    fresh: bool = False,
) -> OrderInputs:
    """Read order, blank and list. only: these rows of it, into a folder named after them, or after `named`. fresh:
    nothing kept from earlier runs is used. CannotRun says what can't be used."""
    cache = Cache(None if fresh else find_default_folder())
    folder = read_order(Path(order), faces=Shelf().names, cutter=choose_cutter)
    entries = Ledger.open(folder.folder).read_entries()
    folder = apply_stored_code(folder, entries)
    blank, said = read_blank(folder, cache)
    if only is not None:
        require_known_lists(only, folder.order.list.further)
    listing, target = read_list(folder), out or folder.folder / "out"
    return OrderInputs(
        folder=folder,
        blank=blank,
        listing=listing,
        client=read_client_artwork(folder, listing.recipients, cache),
        findings=tuple(said),
        chosen=_choose(listing, only),
        part="" if only is None else str(only),
        target=target if only is None else target / f"part-{named or only.file_name}",
        whole_target=target,
        cache=cache,
        sizes_cut=tuple(find_sizes_cut(entries, folder).items()),
    )


def _choose(listing: RecipientList, only: RowSelection | None) -> tuple[Recipient, ...]:
    if only is None:
        return listing.recipients
    chosen = tuple(r for r in listing.recipients if r.row in only)
    if not chosen:
        rows = [r.row for r in listing.recipients]
        held = f"recipients in rows {rows[0]} to {rows[-1]}" if rows else "no recipients"
        raise CannotRun(
            Fault(where="--rows", found="none of these rows holds a recipient", expected=f"the list has {held}")
        )
    return chosen
