"""A run's use of the sign-off ledger: what it reads, and what it records."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from pipeline.core.config.order import OrderFolder
from pipeline.core.environment.clock import Clock
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Finding
from pipeline.core.fingerprint import list_making_values
from pipeline.core.list_row import ListRow
from pipeline.core.model import Blank, Plaque
from pipeline.outputs.revision import Revision
from pipeline.signoff.approval import approve_pieces
from pipeline.signoff.pieces.told_differences import list_untold_differences
from pipeline.signoff.proof_rounds import build_revision, rename_revision
from pipeline.signoff.records.job_identity import begin_order
from pipeline.signoff.records.ledger import Ledger, LedgerEntry, Moved, find_head, read_verified_entries
from pipeline.signoff.records.ledger_head import RELEASED, check_older_ledger, read_recorded_heads
from pipeline.signoff.records.plain_numbers import give_numbers
from pipeline.signoff.records.sent_proofs import find_earlier_letter, keep_proof
from pipeline.signoff.sign_off import SignOff, build_sign_off, keep_carried


class RunLedger:
    """The ledger of one order during one run. A folder that can't be written to costs what would be recorded, not the
    run."""

    def __init__(
        self,
        folder: OrderFolder,
        blank: Blank,
        resolved: Sequence[tuple[str, str | float]],
        *,
        target: Path,
        whole_target: Path,
        rows: frozenset[ListRow] | None,
        clock: Clock | None,
    ) -> None:
        """resolved: see `fingerprint.list_cutting_values`. target: the output folder; whole_target: that of a run of
        the whole list. rows: those the run is about; None: the whole list. clock: of what is recorded; None: nothing
        is."""
        self._folder, self._blank, self._resolved = folder, blank, resolved
        self._target, self._whole_target, self._rows, self._clock = target, whole_target, rows, clock
        self._ledger = Ledger.open(folder.folder)
        self.entries: Sequence[LedgerEntry] = read_verified_entries(self._ledger)
        self._before: str | None = None
        self._differences: tuple[tuple[Finding, LedgerEntry], ...] = ()

    def begin(self, plaques: Sequence[Plaque]) -> tuple[Finding, ...]:
        """Record what a run has to before its papers: the order's code, plain numbers of designs, sign-offs carried
        over from an earlier version. Return what is to be said of the ledger itself."""
        found = tuple(check_older_ledger(self.entries, read_recorded_heads(self._target / RELEASED)))
        if self._clock is None:
            return found
        with suppress(CannotRun):  # the code is then derived from title and client
            begin_order(self._ledger, self._folder, self.entries, self._clock())
            self.entries = read_verified_entries(self._ledger)
        with suppress(CannotRun):  # then papers only have numbers assigned earlier
            self.entries = give_numbers(self._ledger, plaques, self.entries, self._clock())
        if self._rows is None:
            with suppress(CannotRun, Moved):
                keep_carried(self._ledger, self.read_sign_off(plaques), self._clock(), after=find_head(self.entries))
                self.entries = read_verified_entries(self._ledger)
        return found

    def read_sign_off(self, plaques: Sequence[Plaque]) -> SignOff:
        """Return what the ledger's rows say for these plaques."""
        return build_sign_off(self.entries, self._folder, plaques, self._blank, self._resolved)

    def count_signed_pieces(self, plaques: Sequence[Plaque], findings: Sequence[Finding]) -> dict[ListRow, int]:
        """Return for each row how many pieces are signed. findings: of the whole order."""
        sign_off = self.read_sign_off(plaques)
        letter = build_revision(plaques, sign_off.entries, self._folder.order.proof.revision).letter
        approvals = approve_pieces(plaques, sign_off, findings=findings, revision=letter)
        return {a.plaque.recipient.row: a.signed for a in approvals}

    def find_differences(self, plaques: Sequence[Plaque]) -> tuple[Finding, ...]:
        """Return how pieces made already differ from what the order makes now, each once: see `record_differences`."""
        if self._rows is not None:
            return ()
        self._differences = tuple(list_untold_differences(plaques, self.read_sign_off(plaques).entries, self._folder))
        return tuple(finding for finding, _ in self._differences)

    def record_differences(self) -> None:
        """Record that these differences have been told; where that can't be written they are told again."""
        if self._differences and self._clock is not None:
            with suppress(CannotRun):
                self._ledger.add([row for _, row in self._differences], self._clock())

    def find_revision(self, plaques: Sequence[Plaque]) -> Revision:
        """Return the revision that a proof of these plaques is."""
        return build_revision(
            plaques,
            self.read_sign_off(plaques).entries,
            self._folder.order.proof.revision,
            self._ledger.read_lettering,
            self._find_letter_before(),
            find_head(self.entries),
            self._rows,
        )

    def keep_proof(self, revision: Revision, plaques: Sequence[Plaque]) -> Revision | None:
        """Keep the proof that was written as what the revision's letter stands for. Return None when that is done;
        another revision when the letter stands for something else by now: then papers are written again with it.

        CannotRun when nothing can be kept.
        """
        if self._clock is None:
            return None
        making = list_making_values(self._folder.order)
        kept = keep_proof(
            self._target, self._folder.folder, self._ledger, revision, self.entries, self._clock(), making
        )
        if kept == "kept":
            return None
        if kept == "moved":  # another run or an answer was recorded in between
            self.entries = read_verified_entries(self._ledger)
            return self.find_revision(plaques)
        entries, given = self.read_sign_off(plaques).entries, self._folder.order.proof.revision
        return rename_revision(revision, entries, given, self._find_letter_before(), find_head(self.entries))

    def _find_letter_before(self) -> str:
        """The last revision that an earlier version left, of which no proof was kept, as it was before any paper of
        this run."""
        if self._before is None:
            self._before = "" if self._clock is None else find_earlier_letter(self._whole_target, self.entries)
        return self._before
