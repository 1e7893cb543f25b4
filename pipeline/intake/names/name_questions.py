"""The questions an experienced engraver asks about a text before cutting it. Nothing is changed here."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from pipeline.core.catalogue import question_kinds
from pipeline.core.findings import Fact, Finding, Kind, build_finding
from pipeline.intake.names.name_words import SUFFIXES, TITLES, is_placeholder
from pipeline.intake.names.wording import TextPlace, shorten
from pipeline.intake.recipients.headings import find_meaning

Asked = tuple[Kind, dict[str, Fact]]


@dataclass(frozen=True, slots=True)
class QuestionedText:
    """One text: as in the cell, as it will be cut, and whether it is the name."""

    raw: str
    text: str
    named: bool


_ORDINARY = re.compile(r"[^\W\d_¹²³⁴-⁹]+(?:(?:[ '’-]|\. ?)[^\W\d_¹²³⁴-⁹]+)*\.?")
"""Letters with single marks between them: most names, to which only the first few questions apply."""


def question_text(raw: str, text: str, place: TextPlace, *, named: bool, marks: frozenset[str]) -> tuple[Finding, ...]:
    """Return the questions that a text raises, in the order of `CHECKS`."""
    if not text:
        return ()
    found = _list_questions(raw, text, named)
    if marks & {"superscript", "part-struck"}:
        what = "raised or lowered letters" if "superscript" in marks else "words struck through"
        found = (*found, (question_kinds.FORMAT_LOST, {"what": what}))
    if not found:
        return ()
    shown = shorten(text)
    return tuple(
        build_finding(kind, row=place.row, cell=place.cell, facts={"text": shown, **facts}) for kind, facts in found
    )


@lru_cache(maxsize=8192)
def _list_questions(raw: str, text: str, named: bool) -> tuple[Asked, ...]:
    """Return the questions without their place, so that repeated texts are checked once."""
    said = QuestionedText(raw, text, named)
    if _ORDINARY.fullmatch(text) and "\n" not in raw and len(raw) < CUT_AT[0]:
        checks = WORD_CHECKS if "." in text else UNMARKED_CHECKS
    else:
        checks = CHECKS
    found = [asked for check in checks if (asked := check(said)) is not None]
    if any(kind is question_kinds.SEVERAL_NAMES for kind, _ in found):  # that question covers numbers and commas too
        found = [asked for asked in found if asked[0] not in (question_kinds.STRAY_DIGIT, question_kinds.SURNAME_FIRST)]
    return tuple(found)


# --- placeholders and remarks ------------------------------------------------------------------------------------

_MAYBE_ORDINARY = re.compile(r"open|offen|blank|test|sample|same|name|none|pending|nil|null", re.I)


def _check_placeholder(said: QuestionedText) -> Asked | None:
    if not is_placeholder(said.text):
        return None
    if not said.named and _MAYBE_ORDINARY.fullmatch(said.text):
        return None  # an event may be called Open, an award Sample
    return question_kinds.PLACEHOLDER, {}


_REMARK = (
    r"decea?sed|late|spelling|spelt|spelled|check|tbc|tba|confirm(?:ed)?|unsure|not sure|new|old|moved|left|retired|"
    r"cancel(?:led)?|withdrawn|delete|remove|duplicate|see (?:note|above|below)|pronounced|formerly|previously|née|nee|"
    r"please|maybe|absent|replacement|replaces|instead|copy|copies|collect|post(?:ed)?|paid|unpaid|overseas|"
    r"gest(?:orben)?|verstorben|décédée?|x ?\d+|\d+ ?x"
)
_BRACKETED = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_COUNTED = re.compile(r"\d+\s*[^\W\d_]")
"""“(2 pieces)”; but “(1920–2001)” belongs to the name."""
_AFTER_DASH = re.compile(rf"\s[-–—]+\s*((?:.*\b)?(?:{_REMARK})\b.*|.*\?)$", re.I)


_LABEL = re.compile(r"([^\W\d_][\w .]{1,24}):\s")
"""“Name: Ada Skua”, as in forms."""
_TIMES = re.compile(
    r"(?<=[^\W\d_.)])[\s,]+[x×]\s?\d{1,3}(?=\s*[,;]|$)|\s\d{1,3}\s?[x×](?=\s*[,;]|$)|^\d{1,3}\s?[x×]\s(?=\S)", re.I
)
"""“Ann Skua x2”: how many, beside the name; a comma and a post may follow."""
_NOTE_MARK = re.compile(r"[?*†‡¹²³⁴-⁹]+$|!{2,}$|^[?*†‡¹²³⁴-⁹]+")
"""“Ada Skua†”: a mark that refers to a note."""
_THE_LATE = re.compile(r"\b(?:in memory of )?the late(?=\s)", re.I)
"""“the late Sir Ivo Skua”: to be engraved, or only told to the engraver?"""
_SOMETHING_AFTER = re.compile(r"(?<=[^\W\d_.])\s[-–—]\s*[^\W\d_][^-–—]*$")
"""“Gwenllian Rooksby – Cox”: the post beside the name, or part of the name of a firm."""


def remove_remarks(text: str) -> str:
    """Return a name without what `text.remark-inside` asks about: brackets, numbers of pieces, “the late”."""
    for remark in (_BRACKETED, _TIMES, _THE_LATE):
        text = remark.sub("", text)
    return text.strip()


def _check_remark(said: QuestionedText) -> Asked | None:
    if not said.named:
        return None
    if (label := _LABEL.match(said.text)) and find_meaning(label[1]):
        return question_kinds.REMARK_INSIDE, {"remark": f"“{label[0].strip()}”"}
    for bracket in _BRACKETED.finditer(said.text):
        inner = bracket[1].strip()
        words = inner.split()
        at_end = said.text[bracket.end() :].strip(" .*")[:1] in ("", ",", ";")
        if not inner:
            continue
        noted = at_end and (inner[0].islower() or _COUNTED.match(inner))
        if noted or len(words) > 3 or re.search(rf"\b(?:{_REMARK})\b|\?", inner, re.I):
            return question_kinds.REMARK_INSIDE, {"remark": f"“{shorten(bracket[0], 40)}”"}
    if found := _AFTER_DASH.search(said.text) or _SOMETHING_AFTER.search(said.text):
        return question_kinds.REMARK_INSIDE, {"remark": f"“{shorten(found[0].strip(), 40)}”"}
    if found := _TIMES.search(said.text):
        return question_kinds.REMARK_INSIDE, {"remark": f"“{found[0].strip()}”"}
    if (found := _NOTE_MARK.search(said.text)) and not is_placeholder(said.text):
        return question_kinds.REMARK_INSIDE, {"remark": f"“{found[0][0]}”"}
    return None


def _check_the_late(said: QuestionedText) -> Asked | None:
    found = _THE_LATE.match(said.text) if said.named else None
    return (question_kinds.REMARK_INSIDE, {"remark": f"“{found[0]}”"}) if found else None


# --- several names, order of names -------------------------------------------------------------------------------


def _check_several(said: QuestionedText) -> Asked | None:
    if not said.named:
        return None
    lines = [line.strip(" \t,;") for line in re.split(r"[\r\n\v\u2028\u2029]+", said.raw) if line.strip(" \t,;")]
    if len(lines) > 1 and sum(_is_name(re.sub(r"^\s*(?:\d+[.)]|[-•*])\s*", "", line)) for line in lines) > 1:
        return question_kinds.SEVERAL_NAMES, {"count": len(lines)}
    numbered = re.findall(r"(?:^|\s)\d{1,2}[.)]\s*\S", said.text)
    if len(numbered) > 1:
        return question_kinds.SEVERAL_NAMES, {"count": len(numbered)}
    for mark in (r"\s*;\s*", r"\s+/\s*|\s*/\s+", r"\s*•\s*", r"\s+\|\s+", r"\s+\+\s+"):
        parts = [part for part in re.split(mark, said.text) if part]
        if len(parts) > 1 and all(map(_is_name, parts)):
            return question_kinds.SEVERAL_NAMES, {"count": len(parts)}
    if "," in said.text:
        names = [part for part in _COMMA_OR_AND.split(said.text) if part]
        words = [part for part in _COMMA_OR_PLAIN_AND.split(said.text) if part]
        if len(names) > 2 and all(map(_is_name, names)):
            return question_kinds.SEVERAL_NAMES, {"count": len(names)}
        if len(words) > 2 and all(_is_name(part) or _is_one_word(part) for part in words):
            return question_kinds.SEVERAL_NAMES, {"count": len(words)}
        if len(names) == 2 and all(_is_name(part) and len(part.split()) == 2 for part in names):
            return question_kinds.SEVERAL_NAMES, {"count": 2}  # “Ada Skua, Ben Gull”, not “Skua, Ada Mary”
    return None


def _compile_separators(conjunctions: str) -> re.Pattern[str]:
    return re.compile(rf"\s*,\s*(?:(?:{conjunctions})\s+)?|\s+(?:{conjunctions})\s+")


_COMMA_OR_AND = _compile_separators(r"and|und|et|en|og|och|y|e|i|&|\+")
_COMMA_OR_PLAIN_AND = _compile_separators("and|und|et|&")
"""Between single words: “y” joins the two parts of one family name."""


def _is_one_word(text: str) -> bool:
    """Return whether a word is capitalised, and isn't a title, rank or post-nominal."""
    bare = text.strip(" .").casefold()
    return " " not in text and text[:1].isupper() and not text.isupper() and bare not in SUFFIXES | TITLES


def _is_name(text: str) -> bool:
    """Return whether a text is two or more capitalised words: a complete name."""
    words = text.split()
    return 1 < len(words) < 6 and all(w[0].isupper() or not w[0].isalpha() or len(w) < 4 for w in words)


def _check_surname_first(said: QuestionedText) -> Asked | None:
    if not said.named or said.text.count(",") != 1:
        return None
    before, _, after = said.text.partition(",")
    first, second = before.split(), after.split()
    bare = [w.casefold().strip(".") for w in second]
    if not second or len(first) > 2 or len(second) > 3:
        return None
    if any(w in SUFFIXES or w.replace(".", "") in SUFFIXES for w in bare) or any(w.isupper() for w in second):
        return None
    if all(w[:1].isupper() for w in (*first, *second)):
        return question_kinds.SURNAME_FIRST, {}
    return None


# --- slips of the pen --------------------------------------------------------------------------------------------

_DOUBLED = re.compile(r"\b([^\W\d_]{2,})\s+\1\b", re.I)


def _check_doubled(said: QuestionedText) -> Asked | None:
    found = _DOUBLED.search(said.text)
    return (question_kinds.DOUBLED_WORD, {"word": found[1]}) if found else None


_NO_SPACE = re.compile(
    r"[^\W\d_][,;:](?=[^\W\d_])|[^\W\d_]{2,}\.(?=[^\W\d_]{2,})|\)(?=[^\W\d_])|[^\W\d_](?=\([^\W\d_]{3,})"
)
_ADDRESS = re.compile(r"\b(?:www|https?)\b|\.(?:com|org|net|example|co|uk|de|fr|eu|info|gov|edu)\b", re.I)


def _are_abbreviations(text: str, found: re.Match[str]) -> bool:
    """Return whether a full stop joins two parts of a title: Sig.ra, Univ.Prof."""
    after = re.match(r"[^\W\d_]+\.?", text[found.end() :])
    return found[0].endswith(".") and after is not None and (after[0][0].islower() or after[0].endswith("."))


def _check_space(said: QuestionedText) -> Asked | None:
    if found := next((f for f in _NO_SPACE.finditer(said.text) if not _are_abbreviations(said.text, f)), None):
        if not _ADDRESS.search(said.text):
            near = said.text[max(0, found.start() - 1) : found.end() + 3]
            return question_kinds.SPACE_ODD, {"what": f"no space in “{shorten(near)}”"}
        return None
    if found := re.search(r"\w( [,;:.!?])(?!\.)(?=\s|$)|\w( \))|(\( )\w|\w( ['’])(?=\s|$)", said.text):
        near = said.text[max(0, found.start() - 3) : found.end() + 2]
        return question_kinds.SPACE_ODD, {"what": f"a space that stands oddly in “{shorten(near)}”"}
    if found := re.search(r"\w-\s+\w|\w\s+-\w", said.text):
        return question_kinds.SPACE_ODD, {"what": f"a space on one side of a hyphen in “{shorten(found[0])}”"}
    return None


_AT_START = re.compile(r"[,;:_=+|\\/~^<>#@.&•·*-]+(?=\s|\w)|['’`](?=[A-ZÀ-Þ][^\W\d_]{2,})(?![^'’]*['’]\s|[^'’]*['’]$)")


def _check_mark(said: QuestionedText) -> Asked | None:
    text = said.text
    if found := re.search(r"[,;:_=+|\\/~^<>#@&-]+$", text):
        return question_kinds.STRAY_MARK, {"what": f"“{found[0]}” at its end"}
    if found := _AT_START.match(text):
        return question_kinds.STRAY_MARK, {"what": f"“{found[0]}” at its beginning"}
    if found := re.search(r"([,;:'’_!&])\s?\1|--+|(?<!\.)\.\.(?!\.)|[`´¨]|[\w ][_=|\\~^<>][\w ]", text):
        return question_kinds.STRAY_MARK, {"what": f"“{found[0].strip()}” in it"}
    return None


_ORDINAL = re.compile(r"\d+(?:st|nd|rd|th|er|re|e|ème|ª|º|\.)", re.I)


_MOMENT = re.compile(r"[(\[]?\d{1,4}(?:[./-]\d{1,2}[./-]\d{2,4}|[:.]\d{2})(?![^\W_])[\W\d]*(?=[^\W\d_])")
"""“[03/11/2026, 10:12] Joan: Ada Skua”, as copied from a chat."""


def _check_digit(said: QuestionedText) -> Asked | None:
    if not said.named or not any(c.isdigit() for c in said.text):
        return None
    if found := re.match(r"\(?\d{1,4}[.):]\s*(?=[^\W\d_])|\d{1,3}\s+(?=[^\W\d_]+\s[^\W\d_]+$)", said.text):
        return question_kinds.STRAY_DIGIT, {"what": f"the number “{found[0].strip()}” in front"}
    if found := _MOMENT.match(said.text):
        return question_kinds.STRAY_DIGIT, {"what": f"a date or a time in front: “{shorten(found[0].strip(), 30)}”"}
    if not any(c.isalpha() for c in said.text):
        return question_kinds.STRAY_DIGIT, {"what": "no letter in it, only digits"}
    for word in said.text.replace("’", "'").split():
        bare = word.strip(".,()\"“”'")
        if not any(c.isdigit() for c in bare) or _ORDINAL.fullmatch(bare):
            continue
        if re.search(r"[^\W\d_]{2}\d|\d[^\W\d_]{2}|\d'[^\W\d_]|[^\W\d_]\d[^\W\d_]|[^\W\d_]0(?!\d)", bare):
            return question_kinds.STRAY_DIGIT, {"what": f"a digit among letters in “{shorten(bare, 30)}”"}
    return None


_SIGNS = frozenset("©®™°№℅℠♭♯")


def _check_symbol(said: QuestionedText) -> Asked | None:
    if said.text.isascii():
        return None
    odd = [c for c in said.text if unicodedata.category(c) == "So" and c not in _SIGNS]
    if not odd:
        return None
    named = ", ".join(f"“{c}” {unicodedata.name(c, 'unnamed').lower()}" for c in dict.fromkeys(odd[:4]))
    return question_kinds.SYMBOL, {"characters": named}


_PAIRS = {")": "(", "]": "[", "}": "{", "”": "“", "»": "«"}


def _check_balance(said: QuestionedText) -> Asked | None:
    text = said.text
    opened: list[str] = []
    for c in text:
        if c in "([{":
            opened.append(c)
        elif c in ")]}" and (not opened or opened.pop() != _PAIRS[c]):
            return question_kinds.UNBALANCED, {"what": f"“{c}”"}
    if opened:
        return question_kinds.UNBALANCED, {"what": f"“{opened[-1]}”"}
    if text.count('"') % 2:
        return question_kinds.UNBALANCED, {"what": "a straight quotation mark"}
    curled = sum(c in "“”„" for c in text)
    if curled % 2 or text.count("«") != text.count("»"):
        return question_kinds.UNBALANCED, {"what": "a curled quotation mark"}
    return None


_MAY_BE_FORM = re.compile(r"\bMc|\bO[ '’]")
_MC = re.compile(r"\bMc[a-zà-ÿ]{2,}")
_O = re.compile(r"\bO['’][a-zà-ÿ]{2,}")


def _check_form(said: QuestionedText) -> Asked | None:
    if not said.named or not _MAY_BE_FORM.search(said.text):
        return None
    if found := _MC.search(said.text):
        usual = f"Mc{found[0][2].upper()}{found[0][3:]}"
        return question_kinds.NAME_FORM, {"found": found[0], "usual": usual}
    if found := _O.search(said.text):
        return question_kinds.NAME_FORM, {
            "found": found[0],
            "usual": f"{found[0][:2]}{found[0][2].upper()}{found[0][3:]}",
        }
    if found := re.search(r"(?<=\s)O ['’]?([A-Z][a-zà-ÿ]{3,})$", said.text):
        return question_kinds.NAME_FORM, {"found": found[0], "usual": f"O’{found[1]}"}
    return None


CUT_AT = (255, 32_767)


def _check_cut_short(said: QuestionedText) -> Asked | None:
    for length in CUT_AT:
        if len(said.raw) == length:
            return question_kinds.CUT_SHORT, {"length": length}
    return None


Check = Callable[[QuestionedText], Asked | None]
UNMARKED_CHECKS: tuple[Check, ...] = (_check_placeholder, _check_the_late, _check_doubled, _check_form)
WORD_CHECKS: tuple[Check, ...] = (_check_placeholder, _check_the_late, _check_doubled, _check_space, _check_form)
CHECKS: tuple[Check, ...] = (
    _check_placeholder,
    _check_the_late,
    _check_remark,
    _check_several,
    _check_surname_first,
    _check_doubled,
    _check_space,
    _check_mark,
    _check_digit,
    _check_symbol,
    _check_balance,
    _check_form,
    _check_cut_short,
)
"""The checks of a single text, in the order of their findings."""
