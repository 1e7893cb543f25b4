"""Revision of a proof: what papers print about their order and revision, and what the client is asked for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from pipeline.core.language.texts import Texts
from pipeline.core.list_row import ListRow
from pipeline.core.model import Outcome, Piece, Plaque
from pipeline.core.short_codes import build_order_id


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierPlaque:
    """A plaque as an earlier revision showed it, for showing old and new side by side."""

    revision: str
    fingerprint: str
    text: tuple[str, ...]
    rows: tuple[ListRow, ...]
    cap_heights: tuple[float, ...] = ()  # mm, by line
    drawing: tuple[Piece, ...] = ()  # its lettering, mm on the blank; empty when it was stopped


@dataclass(frozen=True, slots=True, kw_only=True)
class HangingPlaque:
    """A plaque whose pieces are all cut or delivered. released: the day its first piece was let out. fingerprint: as
    its design is now, where no other plaque of it is asked for."""

    row: ListRow
    fingerprint: str
    text: tuple[str, ...]  # as it was cut
    pieces: int
    released: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """One revision of the papers. `asks` None: every plaque is asked for (a first proof)."""

    letter: str = "A"
    asks: frozenset[str] | None = None  # fingerprints that still need an answer from the client
    signed: tuple[tuple[str, str], ...] = ()  # fingerprint -> "by whom, when"
    refused: tuple[tuple[str, str], ...] = ()  # likewise for plaques that the client doesn't want cut
    earlier: tuple[tuple[str, EarlierPlaque], ...] = ()  # today's fingerprint -> the plaque it replaces
    numbers: tuple[tuple[str, int], ...] = ()  # fingerprint -> its plain number in this order
    uncut_numbers: tuple[tuple[ListRow, int], ...] = ()  # row of a name that can't be cut -> its plain number
    volumes: tuple[tuple[str, int], ...] = ()  # fingerprint -> the proof volume it was last in
    head: tuple[int, str] = (0, "")  # rows of the ledger when the letter was given, hash of the last
    finished: tuple[HangingPlaque, ...] = ()  # finished plaques, which the client isn't asked about
    settled: bool = False  # every plaque is answered already

    def number_rows(self, plaques: Iterable[Plaque]) -> dict[ListRow, int]:
        """The plain number of each plaque in this order, by row of the list; 0: it has none."""
        designs, uncut = dict(self.numbers), dict(self.uncut_numbers)
        return {
            p.recipient.row: uncut.get(p.recipient.row, 0) if p.state == "stopped" else designs.get(p.fingerprint, 0)
            for p in plaques
        }

    def asks_for(self, fingerprint: str) -> bool:
        return self.asks is None or fingerprint in self.asks

    @property
    def finished_rows(self) -> frozenset[ListRow]:
        """Rows of the list that a proof does not show."""
        return frozenset(f.row for f in self.finished)

    def drop_finished(self, outcome: Outcome) -> Outcome:
        """The outcome with the plaques that a proof is about."""
        if not self.finished:
            return outcome
        left = tuple(p for p in outcome.plaques if p.recipient.row not in self.finished_rows)
        return replace(outcome, plaques=left)

    def list_answered_rows(self, texts: Texts) -> dict[str, str]:
        """Fingerprint -> what has been answered to it, by whom and when, as papers print it."""
        refused = {mark: texts.render_text("answered.refused", who=who) for mark, who in self.refused}
        finished = {f.fingerprint: texts.render_text("answered.finished") for f in self.finished if f.fingerprint}
        return {**finished, **dict(self.signed), **refused}


FIRST = Revision()


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperIdentity:
    """Statement of a paper about where it belongs, so that it can be told apart when it comes back."""

    order_id: str
    title: str
    client: str
    order_sha256: str
    revision: str


def build_identity(outcome: Outcome, revision: Revision = FIRST) -> PaperIdentity:
    """The identity printed on every paper of this run."""
    return PaperIdentity(
        order_id=outcome.order_id or build_order_id(outcome.title, outcome.client),
        title=outcome.title,
        client=outcome.client,
        order_sha256=outcome.order_sha256,
        revision=revision.letter,
    )
