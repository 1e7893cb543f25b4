"""The wording of one cell: from the text as typed to the text as it will be cut.

Spaces and the composition of letters are normalised; characters without ink are removed; nothing else is changed. Every
change is a finding, and so is whatever a careful engraver would ask about.
"""

from __future__ import annotations

import dataclasses
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from pipeline.core.catalogue import name_kinds
from pipeline.core.findings import Finding, build_finding
from pipeline.core.list_row import ListRow
from pipeline.intake.names.confusables import get_script, get_script_name


@dataclass(frozen=True, slots=True)
class TextPlace:
    """The origin of a text."""

    row: ListRow
    cell: str


@dataclass(frozen=True, slots=True)
class Wording:
    """A cell's text as it will be cut, with its findings."""

    text: str
    findings: tuple[Finding, ...] = ()


_PLAIN = re.compile(r"(?! )(?:[A-Za-z0-9.,'()&/-]| (?! ))*(?<! )")
"""Text without findings: ASCII letters, one space between words, none outside."""

_LETTERS = re.compile(r"[^\W\d_]+(?:(?:[ '’.-]|\. )[^\W\d_]+)*\.?")
"""Words with single marks between them: no space to tidy, no character without ink except the fillers below."""
_FILLERS = re.compile("[\u115f\u1160\u3164\uffa0]")
_HALVES = re.compile("[\ud800-\udfff]")

_NO_BREAK = "\u00a0\u202f\u2007"
_BREAKS = "\r\n\v\f\x85\u2028\u2029"
_WIDE = "\t\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2008\u2009\u200a\u205f\u3000"
_SPACE = f" {_NO_BREAK}{_BREAKS}{_WIDE}"
"""White_Space of PropList.txt, less the controls U+001C to U+001F."""
_SPACES = re.compile(f"[{_SPACE}]+")

_KEPT_JOINERS = {"Arab", "Syrc", "Mong", "Nkoo", "Deva", "Beng", "Guru", "Gujr", "Orya", "Taml", "Telu", "Knda",
                 "Mlym", "Sinh", "Khmr", "Mymr", "Tibt", "Thaa"}  # fmt: skip
"""Scripts whose spelling uses U+200C and U+200D (Unicode core specification, 23.2)."""
_NAMES = {
    "\u00ad": "soft hyphen", "\u200b": "zero-width space", "\u200c": "zero-width non-joiner",
    "\u200d": "zero-width joiner", "\u2060": "word joiner", "\ufeff": "byte order mark", "\x00": "NUL",
    "\x7f": "delete",
}  # fmt: skip


def cut_text(raw: str, place: TextPlace) -> Wording:
    """Return the text as it will be cut. Equal text gives equal findings wherever it occurs."""
    text, found = _clean_wording(raw)
    return Wording(text, tuple(dataclasses.replace(f, row=place.row, cell=place.cell) for f in found))


@lru_cache(maxsize=8192)
def _clean_wording(raw: str) -> tuple[str, tuple[Finding, ...]]:
    """Return the text, and the findings without their place. Lists repeat posts, years and categories."""
    if _PLAIN.fullmatch(raw):
        return raw, ()
    findings: list[Finding] = []
    if _LETTERS.fullmatch(raw) and unicodedata.is_normalized("NFC", raw) and not _FILLERS.search(raw):
        text = raw
    else:
        text, changes = _tidy_text(_join_surrogates(raw))
        text, unseen = _drop_unseen(text)
        if unseen:
            text = _SPACES.sub(" ", text).strip(" ")
        if changes:
            findings.append(
                build_finding(name_kinds.TIDIED, facts={"changes": ", ".join(changes), "text": shorten(text)})
            )
        if unseen:
            facts = {"text": shorten(text), "characters": ", ".join(unseen), "done": "taken out"}
            findings.append(build_finding(name_kinds.UNSEEN_CHARACTER, facts=facts))
    findings += [found for check in CHECKS if (found := check(text, raw)) is not None]
    return text, tuple(findings)


def split_typed_rows(raw: str, text: str) -> tuple[str, ...]:
    """Return the text split at the line breaks of its cell; none where there is one row, or where splitting gives
    another text than `text`, the result of `cut_text`."""
    if not any(c in raw for c in _BREAKS):
        return ()
    rows = tuple(row for part in raw.splitlines() if (row := _clean_wording(part)[0]))
    return rows if len(rows) > 1 and " ".join(rows) == text else ()


def shorten(text: str, most: int = 80) -> str:
    """Shorten a text for use inside a sentence: one line, without anything that would break the sentence."""
    if not text.isprintable() or "  " in text:
        text = " ".join(text.split())
        text = "".join(c if c.isprintable() or c == " " else "\ufffd" for c in text)
    return text if len(text) <= most else text[: most - 1] + "…"


def _join_surrogates(text: str) -> str:
    """Join surrogate pairs; a lone surrogate becomes the replacement character, U+FFFD."""
    if not _HALVES.search(text):
        return text
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


def _tidy_text(text: str) -> tuple[str, list[str]]:
    changes = []
    composed = unicodedata.normalize("NFC", text)
    if composed != text:
        changes.append("letters and their accents joined")
    inner = composed.strip(_SPACE)
    if any(c in inner for c in _NO_BREAK):
        changes.append("no-break space replaced by a plain one")
    if any(c in inner for c in _WIDE):
        changes.append("wide space or tab replaced by a plain one")
    if inner != composed:
        changes.append("spaces at the ends removed")
    spaced = _SPACES.sub(" ", inner)
    if len(spaced) != len(inner):
        changes.append("double space reduced to one")
    return spaced, changes


def _drop_unseen(text: str) -> tuple[str, list[str]]:
    """Remove characters without ink; return the text and their names."""
    kept, gone = [], []
    for i, c in enumerate(text):
        if _is_unseen(c) and not _is_needed_here(text, i):
            gone.append(_name_character(c))
        else:
            kept.append(c)
    return "".join(kept), list(dict.fromkeys(gone))


_INKED = frozenset([*range(0x600, 0x606), 0x6DD, 0x70F, 0x890, 0x891, 0x8E2, 0x110BD, 0x110CD])
"""Characters of category Cf that have ink (Prepended_Concatenation_Mark)."""


@lru_cache(maxsize=4096)
def _is_unseen(c: str) -> bool:
    """Return whether a character has no ink: controls, Default_Ignorable_Code_Point (DerivedCoreProperties.txt),
    noncharacters."""
    point = ord(c)
    if point < 0x80:
        return point < 0x20 or point == 0x7F
    category = unicodedata.category(c)
    if category in ("Cc", "Cf"):
        return point not in _INKED
    return (
        point in (0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x3164, 0xFFA0)
        or 0x180B <= point <= 0x180F
        or 0xFE00 <= point <= 0xFE0F
        or 0xE0000 <= point <= 0xE0FFF
        or 0xFDD0 <= point <= 0xFDEF
        or point & 0xFFFE == 0xFFFE
    )


def _is_needed_here(text: str, at: int) -> bool:
    """Return whether an invisible character is needed: joiners inside words of scripts that spell with them, and
    variation selectors."""
    c = text[at]
    if c in "\u200c\u200d":
        return 0 < at < len(text) - 1 and get_script(text[at - 1]) in _KEPT_JOINERS
    if c == "\u200f":
        return False
    if "\ufe00" <= c <= "\ufe0f" or "\U000e0100" <= c <= "\U000e01ef":
        return at > 0 and get_script(text[at - 1]) in ("Hani", "Mong")
    return False


def _name_character(c: str) -> str:
    name = _NAMES.get(c)
    if name is None:
        name = unicodedata.name(c, "control character" if unicodedata.category(c) == "Cc" else "unnamed").lower()
    return f"{name} U+{ord(c):04X}"


# --- what an engraver would ask ----------------------------------------------------------------------------------

_APART = frozenset({"Latn", "Cyrl", "Grek", "Armn", "Cher", "Copt", "Geor", "Hebr", "Arab", "Deva", "Thai"})
"""Alphabets that one name is not written in two of."""


_LATIN = re.compile(r"[\x00-\x7f\u00a0-\u024f\u1e00-\u1eff‘’“”–—…]*")


def _check_mixed(text: str, raw: str) -> Finding | None:
    """Check for letters of two alphabets in one word, or of two with shared shapes in one text."""
    if _LATIN.fullmatch(text):
        return None
    whole: dict[str, list[str]] = {}
    inside = False
    for word in re.split(r"[\s/&,()-]+", text):
        used: set[str] = set()
        for c in word:
            if c.isalpha():
                script = get_script(c)
                if script in _APART:
                    used.add(script)
                    whole.setdefault(script, []).append(c)
        inside |= len(used) > 1
    shapes = whole.keys() & {"Latn", "Cyrl", "Grek", "Armn", "Cher", "Copt"}
    if not inside and (len(shapes) < 2 or min(len(whole[s]) for s in shapes) > 2):
        return None  # a name in two alphabets side by side is intended
    ordered = sorted(whole, key=lambda s: (len(whole[s]), s))
    odd = [f"“{''.join(dict.fromkeys(whole[s]))[:12]}” {get_script_name(s)}" for s in ordered]
    return build_finding(name_kinds.MIXED_SCRIPT, facts={"text": shorten(text), "characters": ", ".join(odd)})


_QUESTION_INSIDE = re.compile(r"[^\W\d_]\?+[^\W\d_]")


def _check_damaged(text: str, raw: str) -> Finding | None:
    """Check for text read in the wrong encoding. The original text is judged: half of a garbled letter may be a space
    or have no ink."""
    suggestion = ""
    if "\ufffd" not in text and not _QUESTION_INSIDE.search(text):
        if raw.isascii():
            return None
        fixed = _mend_text(_join_surrogates(raw))
        if fixed is None:
            return None
        suggestion = f"; it may have been “{shorten(fixed.strip(_SPACE))}”"
    return build_finding(name_kinds.ENCODING_DAMAGED, facts={"text": shorten(text), "suggestion": suggestion})


_MAY_BE_GARBLED = re.compile(r"[^\x00-\x7f]{2}|[\x80-\x9fŒœÂÃ]")
"""Signs of a text that may be garbled; in any other, letters beyond ASCII stand alone between plain ones."""


def _mend_text(text: str) -> str | None:
    """Repair a garbled text with ftfy; None for one that isn't garbled."""
    if not _MAY_BE_GARBLED.search(text):  # loading the library takes longer than reading a short list
        return None
    from ftfy import fix_encoding
    from ftfy.badness import is_bad

    if is_bad(text) and (fixed := fix_encoding(text)) != text:
        return fixed
    # word by word, because a letter that is already right would hide damage in another word
    mended = " ".join(fix_encoding(word) if is_bad(word) else word for word in text.split(" "))
    return mended if mended != text else None


CHECKS: tuple[Callable[[str, str], Finding | None], ...] = (_check_mixed, _check_damaged)
"""The checks of one text, as it will be cut and as it came."""
