"""The content of a client's returned paper as plain data, on which the ledger and the sign command work.

Words: an *answer* is what the paper says about one plaque (one fingerprint); a *reply* is what it says about a name
that cannot be cut as it is, or to a question; a *problem* is what a person has to know before relying on the paper.
Nothing here is a guess: what contradicts itself is `unclear` and says why, what is not mentioned is `unanswered`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.core.list_row import ListRow

Decision = Literal["agreed", "depends", "change", "refused", "unclear", "unanswered"]
"""agreed: to be cut as shown · depends: agreed to, if its questions in another volume are answered so that it stays as
shown (`why`) · change: another wording is wanted (`change_to`) · refused: not to be cut · unclear: the paper
contradicts itself here (`why`) · unanswered: the paper says nothing about this plaque."""

PaperDecision = Literal["agreed-as-shown", "agreed-with-changes", "new-proof", "unclear", ""]
"""The decision on the last page; "" when none was made."""

PaperKind = str
"""`kind` of an entry of `answer_formats.ANSWER_FORMATS`, or `paper`: recorded by hand from paper or a letter."""

ProblemCode = Literal[
    "unreadable",  # damaged, encrypted, or not a PDF
    "not-a-proof",  # a PDF, but not one of our proofs
    "flattened",  # printed, scanned or flattened: the fields are gone
    "other-order",
    "older-revision",
    "altered",  # fields are missing or doubled
    "notes-added",  # comments or drawings outside the fields, which only a person can read
    "differs",  # something other than the fields was changed
    "remarks",  # written in words, so only a person can tell what they mean
    "ledger-older",  # the ledger lacks rows that it had when the paper was made
    "no-copy",  # there is nothing to compare the paper with
    "no-name",
    "no-decision",
    "contradiction",
    "empty",  # returned without any answer
    "no-proof",  # it doesn't say which proof it answers
    "not-understood",  # a message with more than the phrases we can read
    "page-unread",  # a picture of a page that can't be read
    "page-missing",  # for a proof returned as pictures
    "page-twice",
    "stopped-row",  # it names a row that can't be cut
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperProblem:
    """A problem of a returned paper. A fatal one means that nothing of this paper may be recorded."""

    code: ProblemCode
    found: str
    remedy: str = ""
    fatal: bool = False
    fingerprint: str = ""  # of the plaque concerned; empty for the whole paper

    def __str__(self) -> str:
        return f"{self.found}. {self.remedy[0].upper()}{self.remedy[1:]}" if self.remedy else self.found


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The answer to one plaque. Equal plaques share one answer for all their rows."""

    fingerprint: str
    decision: Decision
    change_to: str = ""  # as typed by the client; any script, may have line breaks
    reply: str = ""  # to the question shown with the plaque
    rows: tuple[ListRow, ...] = ()  # rows of the client's list when the paper was made
    cells: tuple[str, ...] = ()  # cells of the names in those rows, e.g. "B14"
    pieces: int = 1  # copies over all rows: how many pieces an approval covers
    text: tuple[str, ...] = ()  # the lines as shown on the paper
    why: str = ""  # for `unclear`: which answers contradict each other
    no: int = 0  # the design's plain number in this order
    decided_by: str = ""  # who decided an unclear answer, if the maker did


@dataclass(frozen=True, slots=True, kw_only=True)
class FarAnswer:
    """What the answers to the questions of one volume mean for a plaque that another volume shows. said: as in
    `question_answers.Said`."""

    fingerprint: str
    said: Literal["unanswered", "as-shown", "change", "leave", "unclear"]
    words: str = ""  # what is wanted, or why it is unclear


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """What the paper says about a name that could not be cut as it was, and so has no fingerprint; or to a question
    about the whole order, of which `text` is the words."""

    row: ListRow  # 0: about the whole order
    cell: str
    text: tuple[str, ...]  # as in the list
    reply: str
    no: int = 0  # its plain number in this order


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnedPaper:
    """One returned paper, understood as far as possible."""

    kind: PaperKind
    file: str  # its name, without folder
    sha256: str  # of its bytes as received
    order_id: str = ""  # which order the paper was made for
    order_sha256: str = ""  # sha256 of order.toml when the paper was made
    title: str = ""
    client: str = ""
    revision: str = ""
    volume: int = 0  # of a proof in several files, from 1
    head: tuple[int, str] = (0, "")  # rows of the ledger when its letter was given, hash of the last
    by: str = ""
    date: str = ""  # as the client wrote it
    decision: PaperDecision = ""
    remarks: str = ""
    sender: str = ""  # of a message, as in its header
    note: str = ""  # what it proves, if that is limited
    words: str = ""  # of a message, for the maker to read
    files: tuple[tuple[str, str], ...] = ()  # of a paper received in several files: name and sha256 of each
    pictures: tuple[tuple[str, bytes], ...] = ()  # what a person has to look at: path in the order folder, PNG
    answers: tuple[Answer, ...] = ()
    replies: tuple[Reply, ...] = ()
    far: tuple[FarAnswer, ...] = ()  # about plaques of other volumes
    problems: tuple[PaperProblem, ...] = ()

    @property
    def usable(self) -> bool:
        """Return whether anything of it may be recorded."""
        return not any(p.fatal for p in self.problems)
