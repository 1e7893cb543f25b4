"""Findings: what a stage reports about the order or one plaque, and how it is worded.

The facts of a kind of finding are in one place, `pipeline.core.catalogue`; a finding carries only its own particulars.
Papers, sheets, JSON and `explain` all render from these two.
"""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Literal, Protocol

from pipeline.core.list_row import ListRow
from pipeline.core.units import MM, Units

Fact = str | float | int
Place = tuple[float, float]


class Severity(StrEnum):
    """Ordered worst first by `rank`."""

    STOP = "stop"  # must not be cut
    ASK = "ask"  # a person has to look; the file is made, the question goes on the proof
    NOTE = "note"  # recorded only

    @property
    def rank(self) -> int:
        return ("stop", "ask", "note").index(self.value)


Scope = Literal["plaque", "order", "boards", "jigs", "paper"]
"""What a finding of severity stop keeps from being made: the plaque it belongs to, every plaque of the order, the
boards or the jig loads (single cut files stay good), or the one paper that is being written."""


Addressee = Literal["client", "maker", "nobody", ""]
"""Who has to act on advice in words: the client has to be asked, the maker has to look, measure, draw, buy or decide,
or nothing is to be done. Empty: all of it is said by edits of the order file."""

Value = str | int | float | bool | tuple[str, ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One change of order.toml. Lengths are in the order's own unit, as they are typed."""

    table: str  # "line", "limits", "cutter", "list" …; "" for a top-level key
    key: str  # dotted for a nested table: "rough.use"
    value: Value  # None: remove the key
    number: int | None = None  # which one of a repeated table such as [[line]], from 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to resolve a finding. All of its edits belong together; several ways are alternatives."""

    code: str  # names its wording in the catalogue
    edits: tuple[Edit, ...] = ()
    text: str = ""  # the text the line would have instead, for the client to agree to
    facts: tuple[tuple[str, Fact], ...] = ()  # for the wording; sorted by name

    @property
    def can_be_tried(self) -> bool:
        """Return whether it says exactly what to change, so that the plaque can be made that way and checked again."""
        return bool(self.edits or self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class WayKind:
    """The words of one way; the same blanks as in the templates of a kind, and `{size:number}` for a bare length."""

    code: str
    maker: str
    client: str = ""  # offered as a choice on the proof; "" keeps it off
    addressed: Addressee = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of finding. Templates name facts in braces; `{width:mm}` shows a length in the order's unit.

    `{measured}` and `{limit}` are always at hand when the finding has them, already with unit and enough decimals; a
    fact `finer` asks for so many decimals more than usual.
    """

    code: str  # permanent; names the fault
    severity: Severity
    message: str  # what is wrong here, for the maker
    why: str  # why it matters
    remedy: str  # what to do, printed after the ways found; "" where a way always exists
    client: str = ""  # the same in plain words for the proof; for an `ask` it is a question; "" keeps it off the proof
    source: str = ""  # source of the limit
    design: str = ""  # a fault of the design: what the names are ("too fine"), see `core.design_faults`
    stops: Scope = "plaque"  # for severity stop: what must not be made while it stands
    addressed: Addressee = ""  # who has to act on `remedy`
    ways: tuple[WayKind, ...] = ()  # ways a finding of this kind may offer; most are tried on the plaque first
    edits: tuple[tuple[Edit, ...], ...] = ()  # alternatives valid for every finding of this kind, named in `remedy`;
    # an edit of a [[line]] without a number means the finding's line


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding. Lengths are mm; `at` is a place on the blank in mm; `line` counts the order's lines from 1."""

    code: str
    severity: Severity
    line: int | None = None
    glyph: str | None = None
    at: Place | None = None
    measured: float | None = None
    limit: float | None = None
    unit: str = ""  # "mm", "mm²", "°", "" ...
    row: ListRow | None = None  # row in the client's lists
    cell: str | None = None  # e.g. "B14"
    facts: tuple[tuple[str, Fact], ...] = ()  # sorted by name
    ways: tuple[Way, ...] = ()  # ways to resolve it, the smallest change first
    file: str = ""  # for a finding about a further list: its file

    def get_fact(self, name: str) -> Fact | None:
        return dict(self.facts).get(name)


FindingSubject = tuple[str, int | None]
"""What a finding is about: “fit” for a line that does not fit, whatever the reason, else its code; and the line."""


def get_subject(finding: Finding) -> FindingSubject:
    """Return what the finding is about, which advice must resolve and must not bring about."""
    unfit = finding.code.startswith("fit.") and finding.severity is Severity.STOP
    return "fit" if unfit else finding.code, finding.line


class MessageLanguage(Protocol):
    """What templates ask of the language they are in."""

    def translate_phrase(self, english: str) -> str:
        """Translate one of our phrases into this language."""

    def choose_form(self, number: float) -> int:
        """Choose which of its plural forms goes with a number, from 0."""


class _English:
    def translate_phrase(self, english: str) -> str:
        return english

    def choose_form(self, number: float) -> int:
        return 0 if number == 1 else 1


ENGLISH: MessageLanguage = _English()


class _MessageFormatter(string.Formatter):
    """str.format with formats for lengths, in the order's unit: `mm` shows one with its unit, never as nought when it
    is not; `finer` with one decimal more; `up` and `down` round to that side; `number` is what is typed, without
    unit. `{n:row is|rows are}` counts, with `=` before it only the words stand; there are as many as the language has
    forms. `translate_phrase` shows a phrase of ours in that language."""

    def __init__(self, units: Units, wording: MessageLanguage) -> None:
        self.units, self.wording = units, wording

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec == "mm":
            length, decimals = float(value), self.units.decimals
            while length and decimals < 9 and float(self.units.format_number(length, decimals)) == 0:
                decimals += 1
            return self.units.show(length, decimals)
        if format_spec == "phrase":
            return self.wording.translate_phrase(str(value))
        if format_spec == "g":
            return self.units.format_figure(float(value), "")
        if "|" in format_spec:
            forms = format_spec.removeprefix("=").split("|")
            word = forms[min(self.wording.choose_form(value), len(forms) - 1)]
            return word if format_spec.startswith("=") else f"{value} {word}"
        if format_spec in ("up", "down"):
            return self.units.show(self.units.round_length(float(value), up=format_spec == "up"))
        if format_spec in ("finer", "finer-up", "finer-down"):
            length = float(value)
            if format_spec != "finer":
                length = self.units.round_length(length, up=format_spec == "finer-up", finer=1)
            return self.units.show(length, self.units.decimals + 1)
        if format_spec == "number":
            return self.units.format_typed(float(value))
        return str(super().format_field(value, format_spec))


def build_finding(kind: Kind, *, facts: Mapping[str, Fact] | None = None, **own: Any) -> Finding:
    """A finding of this kind; `own` are Finding's fields, `facts` fill the templates."""
    return Finding(code=kind.code, severity=kind.severity, facts=tuple(sorted((facts or {}).items())), **own)


def build_way(kind: WayKind, *edits: Edit, text: str = "", facts: Mapping[str, Fact] | None = None) -> Way:
    """A way of this kind; `facts` fill its words."""
    return Way(code=kind.code, edits=edits, text=text, facts=tuple(sorted((facts or {}).items())))


def render_way(template: str, ways: Sequence[Way], units: Units = MM, wording: MessageLanguage = ENGLISH) -> str:
    """The words of ways of one code as one: names that differ are all named ("a, b or c"); of figures the first."""
    words: dict[str, Any] = {}
    for name, value in ways[0].facts:
        words[name] = value
        named = list(dict.fromkeys(str(dict(other.facts)[name]) for other in ways))
        if isinstance(value, str) and len(named) > 1:
            words[name] = f"{', '.join(named[:-1])} or {named[-1]}"
    return _MessageFormatter(units, wording).format(template, **words)


def render(
    template: str, finding: Finding, units: Units = MM, wording: MessageLanguage = ENGLISH, /, **more: str
) -> str:
    """A template of the finding's kind with its facts, and `more`, put in. A missing fact is a fault of ours:
    KeyError. wording: of the language of the template."""
    words: dict[str, Any] = {**dict(finding.facts), **more}
    if finding.unit == "mm" and finding.measured is not None and finding.limit is not None:
        finer = int(words.get("finer", 0))
        words["measured"], words["limit"] = units.format_pair(finding.measured, finding.limit, units.decimals + finer)
    else:
        for name, value in (("measured", finding.measured), ("limit", finding.limit)):
            if value is not None:
                shown = units.show(value) if finding.unit == "mm" else units.format_figure(value, finding.unit)
                words.setdefault(name, shown)
    words.setdefault("glyph", finding.glyph or "")
    words.setdefault("row", "" if finding.row is None else finding.row)
    words.setdefault("cell", finding.cell or "")
    words.setdefault("line", "" if finding.line is None else finding.line)
    return _MessageFormatter(units, wording).format(template, **words)
