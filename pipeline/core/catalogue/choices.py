"""What the client can tick as an answer to a question, and which questions are asked once for all cells they concern.

Each choice says what it means for the plaques concerned: they stay as shown, are changed, or are left out. Beside the
choices there is always a line to write.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Meaning = Literal["as-shown", "change", "leave"]


@dataclass(frozen=True, slots=True)
class ChoiceKind:
    """One choice. code: permanent within its question, and the id of its words in other languages; words: facts of the
    finding in braces."""

    code: str
    words: str
    means: Meaning


@dataclass(frozen=True, slots=True)
class AskedTogether:
    """A question that is asked once for every cell with one cause. cause: facts that are equal in all of them; words:
    of the question for several, with `{count}`, `{rows}`, `{examples}` and the facts of the first."""

    cause: tuple[str, ...]
    words: str


YES, NO = ChoiceKind("yes", "Yes", "as-shown"), ChoiceKind("no", "No", "change")
AS_IT_STANDS = ChoiceKind("as-it-stands", "Yes, as it stands", "as-shown")
OTHERWISE = ChoiceKind("otherwise", "No, as written here", "change")
WANTED = ChoiceKind("wanted", "Yes, wanted", "as-shown")
NOT_WANTED = ChoiceKind("not-wanted", "No, leave it out", "leave")
LEAVE_OUT = ChoiceKind("leave-out", "Leave it out", "leave")
WRITTEN = ChoiceKind("written", "As written here", "change")
A_PLAQUE = ChoiceKind("a-plaque", "It is wanted", "change")
NO_PLAQUE = ChoiceKind("no-plaque", "No, it is not", "as-shown")

SEND_DRAWING = ChoiceKind("send-drawing", "I will send the drawing", "change")
WITHOUT_DRAWING = ChoiceKind("without-drawing", "Cut it without this drawing", "change")

_STANDS = (AS_IT_STANDS, OTHERWISE)
_IS_WANTED = (WANTED, NOT_WANTED)
_MISSING = (WRITTEN, LEAVE_OUT)
_MORE = (A_PLAQUE, NO_PLAQUE)

CHOICES: Mapping[str, tuple[ChoiceKind, ...]] = {
    "list.name-missing": _MISSING,
    "list.name-incomplete": _STANDS,
    "list.cell-error": _MISSING,
    "list.no-result": _MISSING,
    "text.endless": _MISSING,
    "text.marks-piled-up": _MISSING,
    "text.placeholder": (WRITTEN, ChoiceKind("cut-so", "Cut it as it stands", "as-shown"), LEAVE_OUT),
    "list.row-hidden": _IS_WANTED,
    "list.filtered": _IS_WANTED,
    "list.row-filtered": _IS_WANTED,
    "list.says-no": _IS_WANTED,
    "list.says-nothing": _IS_WANTED,
    "list.row-struck": _IS_WANTED,
    "list.not-text": (ChoiceKind("as-listed", "“{text}”, as in your list", "as-shown"), WRITTEN),
    "list.repeated": (
        ChoiceKind("all-of-them", "{count}, one for each row", "as-shown"),
        ChoiceKind("one-only", "One only", "change"),
    ),
    "list.look-alike": (
        ChoiceKind("two-people", "Two people, both spelled right", "as-shown"),
        ChoiceKind("one-person", "One and the same", "change"),
    ),
    "list.copies-unclear": (
        ChoiceKind("copies", "{copies}", "as-shown"),
        ChoiceKind("copies-written", "As many as written here", "change"),
    ),
    "list.no-copies": (ChoiceKind("none", "Yes, none", "as-shown"), ChoiceKind("some", "No, it is wanted", "change")),
    "list.total-differs": (
        ChoiceKind("rows", "The rows: {counted}", "as-shown"),
        ChoiceKind("total", "The total: {stated}", "change"),
    ),
    "list.left-out-names-somebody": _MORE,
    "list.above-header": _MORE,
    "list.beside": _MORE,
    "list.names-unused": _MORE,
    "list.perhaps-not-a-name": (
        ChoiceKind("plaque", "It is wanted", "as-shown"),
        ChoiceKind("remark", "It is a remark", "leave"),
    ),
    "list.two-ways": (
        ChoiceKind("as-they-are", "Leave them as they are", "as-shown"),
        ChoiceKind("alike", "Make all alike", "change"),
    ),
    "text.encoding-damaged": (WRITTEN, LEAVE_OUT),
    "text.remark-inside": (
        ChoiceKind("cut-too", "Yes, cut it too", "as-shown"),
        ChoiceKind("without", "No, leave {remark} out", "change"),
    ),
    "text.several-names": (
        ChoiceKind("one-plaque", "One with all the names", "as-shown"),
        ChoiceKind("one-each", "{count}, one for each name", "change"),
    ),
    "text.name-form": (
        ChoiceKind("found", "“{found}”, as it stands", "as-shown"),
        ChoiceKind("usual", "“{usual}”", "change"),
    ),
    "text.ampersand-odd": (
        ChoiceKind("found", "“{found}”, as it stands", "as-shown"),
        ChoiceKind("usual", "“{usual}”", "change"),
    ),
    "text.apostrophe-odd": (
        ChoiceKind("make-alike", "Yes, make them alike", "change"),
        ChoiceKind("keep-both", "No, leave them as they are", "as-shown"),
    ),
    "text.cut-short": (ChoiceKind("complete", "Yes, complete", "as-shown"), OTHERWISE),
    "text.unbalanced": _STANDS,
    "text.format-lost": (ChoiceKind("plain", "As drawn in this proof", "as-shown"), OTHERWISE),
    "face.glyph-missing": (ChoiceKind("other-face", "Propose another typeface", "change"), WRITTEN, LEAVE_OUT),
    "face.mixed-word": (
        ChoiceKind("agreed", "Yes, as drawn in this proof", "as-shown"),
        ChoiceKind("not-so", "No, propose another typeface", "change"),
    ),
    "fit.too-long": (WRITTEN, LEAVE_OUT),
    "artwork.missing": (SEND_DRAWING, WITHOUT_DRAWING),
    "artwork.cannot-cut": (SEND_DRAWING, WITHOUT_DRAWING),
    "fit.size-moved": (
        ChoiceKind("size-agreed", "Agreed", "as-shown"),
        ChoiceKind("size-not-agreed", "Not agreed", "change"),
    ),
    **dict.fromkeys(
        (
            "text.case-odd",
            "text.surname-first",
            "text.doubled-word",
            "text.space-odd",
            "text.stray-mark",
            "text.stray-digit",
            "text.symbol",
            "text.title-odd",
        ),
        _STANDS,
    ),
}
"""By the code of the finding; all others are answered with yes, which leaves the plaque as shown, or no: that is no
answer to what stops a plaque, so a stop has its own."""

TOGETHER: Mapping[str, AskedTogether] = {
    "list.not-text": AskedTogether(
        ("value", "where"),
        "{count} cells of your list hold dates or numbers, such as “{text}”. How should they be cut?",
    ),
    "list.name-incomplete": AskedTogether(
        (), "{count} rows of your list have only one part of a name: {examples} (rows {rows}). Is each the whole name?"
    ),
    "list.row-hidden": AskedTogether((), "{count} rows of your list are hidden (rows {rows}). Are these wanted?"),
    "list.row-filtered": AskedTogether(
        (), "{count} rows are hidden by the filter set in your list (rows {rows}). Are these wanted?"
    ),
    "list.row-struck": AskedTogether(
        (), "{count} rows are struck through in your list: {examples} (rows {rows}). Are these wanted?"
    ),
    "list.says-no": AskedTogether(
        ("said", "heading"),
        "Your list says “{said}” under “{heading}” for {count}: {examples} (rows {rows}). Are these wanted?",
    ),
    "list.says-nothing": AskedTogether(
        ("heading",),
        "Your list has nothing under “{heading}” for {count}: {examples} (rows {rows}). Are these wanted?",
    ),
    "list.copies-unclear": AskedTogether(
        ("found",), "How many are wanted for each of these {count}: {examples}?"
    ),
    "list.cell-error": AskedTogether(("error",), "{count} cells of your list show {error}. What should stand there?"),
    "text.placeholder": AskedTogether(("text",), "{count} rows of your list say “{text}”. What should stand there?"),
    "text.remark-inside": AskedTogether(
        ("remark",), "{count} texts of your list have {remark} in them: {examples}. Is that to be cut as well?"
    ),
    "text.surname-first": AskedTogether(
        (), "Should these {count} be cut with the family name first, as they stand: {examples}?"
    ),
    "text.case-odd": AskedTogether(
        ("how",), "{count} texts stand out ({how:phrase}): {examples}. Should they be cut like that?"
    ),
    "text.mixed-script": AskedTogether(
        (), "{count} texts have letters of two alphabets in them: {examples}. Is that meant?"
    ),
    "face.mixed-word": AskedTogether(
        ("face", "other", "letters"),
        "The chosen typeface lacks {letters} of {count} texts: {examples}. It is drawn in another typeface, which "
        "looks different beside the other letters. Is that agreed?",
    ),
    "face.glyph-missing": AskedTogether(
        ("face", "letters"), "The chosen typeface lacks {letters} of {count} texts: {examples}. What shall we do?"
    ),
}  # fmt: skip
"""By the code of the finding; of others only questions of equal words are one."""


def list_choices(code: str) -> tuple[ChoiceKind, ...]:
    """The choices for the client of a kind of finding."""
    return CHOICES.get(code, (YES, NO))


def build_choice_id(choice: ChoiceKind) -> str:
    """The id under which catalogues of other languages have its words."""
    return f"choice.{choice.code}"


def build_together_id(code: str) -> str:
    """Build the id for the words of a question asked for several cells."""
    return f"finding.{code}.many"
