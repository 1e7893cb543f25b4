"""Capitals: a name capitalised differently from the rest of its list."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

from pipeline.core.catalogue import name_kinds
from pipeline.core.findings import Finding, build_finding
from pipeline.core.list_row import ListRow
from pipeline.intake.names.name_questions import remove_remarks
from pipeline.intake.names.name_words import PARTICLES, SUFFIXES
from pipeline.intake.names.wording import shorten

FEW = 0.2
"""Share of the list from which a habit counts as its style. Common practice, no source."""
LEAST = 4
"""Fewest names for a list to have a style."""

SHARED = 3
"""Number of names with the same lower-case word that make it an ordinary word of their language."""

HOW = {
    "capitals": "all in capitals, unlike the rest of the list",
    "small": "all in small letters, unlike the rest of the list",
    "small-word": "written with a small first letter in “{word}”",
    "capital-word": "written with “{word}” in capitals, unlike the rest of the list",
    "inner": "written with a capital in an odd place in “{word}”",
}


_GEORGIAN = re.compile("[\u10d0-\u10ff]")
"""Letters that have capitals in Unicode but are written without them, even in names."""
_OF_WALLS = frozenset("in of by on for from with memory loving honour honor behalf family families friends and".split())
"""Small words of donor walls: “in memory of”, “and family”. In common use; no source."""
_USUAL = re.compile(r"[A-ZÀ-ÖØ-Þ][a-zß-öø-ÿ]+(?:[ -][A-ZÀ-ÖØ-Þ][a-zß-öø-ÿ]+)+")


def find_style(name: str) -> tuple[str, str]:
    """Return how a name uses capitals, and the word that shows it; ("", "") where the script has no capitals."""
    if _USUAL.fullmatch(name):
        return "mixed", ""
    spoken = [w for w in re.split(r"[\s/&,()]+", name) if any(c.isalpha() for c in w)]
    cased = [w for w in spoken if w.upper() != w.lower()]
    letters = [c for w in cased for c in w if c.upper() != c.lower() and not _GEORGIAN.match(c)]
    if len(letters) < 3:
        return "", ""
    if all(c.isupper() for c in letters):
        return ("capitals", "") if any(len(w) > 3 for w in cased) and len(cased) > 1 else ("", "")
    if all(c.islower() for c in letters):
        return "small", ""
    for word in cased:
        bare = word.strip(".'’\"“”-")
        if bare.casefold() in PARTICLES or bare.casefold() in SUFFIXES or bare in _OF_WALLS or len(bare) < 2:
            continue
        if word is cased[0] and word.endswith("."):
            continue  # an abbreviated title: тов., p.
        if (
            bare[0].islower()
            and bare.split("-")[0].casefold() not in PARTICLES
            and re.match(r"[^\W\d_]", bare)
            and not re.match(r"[a-zà-ÿ]['’]", bare)
        ):
            return "small-word", bare
        if len(bare) > 3 and bare.isupper() and bare.isalpha():
            return "capital-word", bare
        if re.search(r"[^\W\d_]*[a-zà-ÿ]{2}[A-ZÀ-Þ][A-ZÀ-Þ]+", bare) or re.match(r"[A-ZÀ-Þ]{2,}[a-zà-ÿ]{2}", bare):
            return "inner", bare
    return "mixed", ""


def find_odd_capitals(names: Mapping[ListRow, tuple[str, str]]) -> dict[ListRow, Finding]:
    """Questions by row, for row → (cell, name)."""
    styles = {row: find_style(remove_remarks(name)) for row, (_, name) in names.items()}
    shared = Counter(word for style, word in styles.values() if style == "small-word")
    counts = Counter(style for style, _ in styles.values() if style)
    total = sum(counts.values())
    found = {}
    for row, (style, word) in styles.items():
        if style in ("", "mixed") or total < LEAST or counts[style] > FEW * total:
            continue
        if shared[word] >= SHARED:
            continue  # a word that several names write like this is an ordinary one
        cell, name = names[row]
        how = HOW[style].format(word=shorten(word, 30))
        found[row] = build_finding(name_kinds.CASE_ODD, row=row, cell=cell, facts={"text": shorten(name), "how": how})
    return found
