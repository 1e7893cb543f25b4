"""Comparison of the rows of a list: the same person twice, one name spelled in two ways.

Rows are compared by looking up keys, so the time grows with the list and not with its square.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from pipeline.core.catalogue import list_kinds
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.core.list_row import ListRow, pack_row
from pipeline.intake.names.confusables import compute_skeleton, strip_marks
from pipeline.intake.names.name_words import SUFFIXES, TITLES, split_tokens
from pipeline.intake.names.wording import shorten

ESTABLISHED = 3
"""Other rows with a spelling from which it is no slip. Common practice, no source."""
CROWD = 60
"""Rows that differ in one word only, beyond which one letter's difference in it says nothing."""


@dataclass(frozen=True, slots=True)
class ListedName:
    """A row to compare: its number, the cell of its name, the name, and everything else that will be cut."""

    row: ListRow
    cell: str
    name: str
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _NameParts:
    """The parts of a name."""

    words: tuple[str, ...]  # without titles, initials, accents and capitals
    initials: frozenset[str]
    titles: frozenset[str]


def find_repeats(entries: Sequence[ListedName]) -> dict[ListRow, list[Finding]]:
    """Return questions by row. Of two rows the later one carries the question, once."""
    found: dict[ListRow, list[Finding]] = defaultdict(list)
    kept = _find_repeated(entries, found)
    asked: set[tuple[ListRow, ListRow]] = set()
    for earlier, later, how in _find_alike(kept):
        pair = (earlier.row, later.row)
        if pair in asked or earlier.row == later.row:
            continue
        asked.add(pair)
        if any(f.code == list_kinds.LOOK_ALIKE.code for f in found[later.row]):
            continue  # at most one question of this kind per plaque
        found[later.row].append(
            build_finding(
                list_kinds.LOOK_ALIKE,
                row=later.row,
                cell=later.cell,
                facts={
                    "text": shorten(later.name),
                    "other": shorten(earlier.name),
                    "other_row": pack_row(earlier.row),
                    "how": how,
                },
            )
        )
    return {row: findings for row, findings in found.items() if findings}


def fold_name(name: str) -> str:
    """Fold a name: capitals, compatibility forms and spaces are ignored."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def _find_repeated(entries: Sequence[ListedName], found: dict[ListRow, list[Finding]]) -> list[ListedName]:
    """Ask about rows that are equal in every lettered column; return the entries with the first of each name for
    further comparison."""
    first: dict[str, ListedName] = {}
    alike: dict[tuple[str, ...], list[ListedName]] = {}
    kept = []
    for entry in entries:
        key = fold_name(entry.name)
        if not key:
            continue
        if first.setdefault(key, entry) is entry:
            kept.append(entry)
        alike.setdefault((key, *map(fold_name, entry.others)), []).append(entry)
    for same in alike.values():
        rows = [str(entry.row) for entry in same]
        facts: dict[str, Fact] = {
            "rows": f"{', '.join(rows[:-1])} and {rows[-1]}" if len(rows) > 1 else "",
            "count": len(rows),
            "text": shorten(" · ".join(filter(None, (same[0].name, *same[0].others)))),
        }
        for entry in same[1:]:
            found[entry.row].append(build_finding(list_kinds.REPEATED, row=entry.row, cell=entry.cell, facts=facts))
    return kept


# --- alike --------------------------------------------------------------------------------------------------------


def _split_name(name: str) -> _NameParts:
    words, initials, titles = [], set(), set()
    folded = strip_marks(unicodedata.normalize("NFKC", name).casefold()).replace("&", " & ")
    every = split_tokens(folded)
    for token in every:
        if len(token) == 1 and token.isalpha() and len(every) > 2:
            initials.add(token)
        elif token in TITLES and len(every) > 1:
            titles.add(token)
        else:
            words.append(token)
    return _NameParts(tuple(words), frozenset(initials), frozenset(titles))


_MEN, _WOMEN = (
    frozenset({"mr", "herr", "m", "monsieur", "sir", "sr"}),
    frozenset({"mrs", "ms", "miss", "frau", "mme", "madame", "sra", "dame", "lady"}),
)


def _are_two_people(a: _NameParts, b: _NameParts) -> bool:
    """Return whether initials or titles indicate two people: Ada M. and Ada P., Mr and Mrs."""
    if a.initials and b.initials and not (a.initials <= b.initials or b.initials <= a.initials):
        return True
    return bool((a.titles & _MEN and b.titles & _WOMEN) or (a.titles & _WOMEN and b.titles & _MEN))


def _find_alike(entries: Sequence[ListedName]) -> Iterator[tuple[ListedName, ListedName, str]]:
    names = {entry.row: _split_name(entry.name) for entry in entries}
    keys = (
        ("only accents, titles or initials differ", {r: " ".join(n.words) for r, n in names.items()}),
        (
            "only spaces, hyphens or apostrophes differ",
            {r: re.sub(r"[\W_]", "", "".join(n.words)) for r, n in names.items()},
        ),
        ("the same words in another order", {r: " ".join(sorted(n.words)) for r, n in names.items()}),
        (
            "they look the same though their letters differ",
            {e.row: compute_skeleton(strip_marks(e.name).casefold()) for e in entries},
        ),
    )
    for how, key_of in keys:
        groups: dict[str, list[ListedName]] = defaultdict(list)
        for entry in entries:
            if key_of[entry.row]:
                groups[key_of[entry.row]].append(entry)
        for same in groups.values():
            for other in same[1:]:
                if not _are_two_people(names[same[0].row], names[other.row]):
                    yield same[0], other, how
    yield from _find_one_word_apart(entries, names)


def _find_one_word_apart(
    entries: Sequence[ListedName], names: Mapping[ListRow, _NameParts]
) -> Iterator[tuple[ListedName, ListedName, str]]:
    """Find names that differ in one word only, by one letter or with the same sound."""
    known = Counter(word for entry in entries for word in set(names[entry.row].words))
    buckets: dict[tuple[int, tuple[str, ...]], list[tuple[str, ListedName]]] = defaultdict(list)
    for entry in entries:
        words = names[entry.row].words
        if 1 < len(words) <= 12:
            for i, word in enumerate(words):
                if len(word) > 2 and word.isalpha():
                    buckets[i, (*words[:i], *words[i + 1 :])].append((word, entry))
    for members in buckets.values():
        if 1 < len(members) <= CROWD:
            yield from _close_words(members, names, known)


def _close_words(
    members: Sequence[tuple[str, ListedName]], names: Mapping[ListRow, _NameParts], known: Mapping[str, int]
) -> Iterator[tuple[ListedName, ListedName, str]]:
    from rapidfuzz.distance import OSA

    near: dict[str, list[int]] = defaultdict(list)
    for i, (word, _) in enumerate(members):
        for key in _list_shortened(word):
            near[key].append(i)
    tried: set[tuple[int, int]] = set()
    for together in near.values():
        for at, j in enumerate(together):
            for i in together[:at]:
                if (i, j) in tried:
                    continue
                tried.add((i, j))
                (a, first), (b, second) = members[i], members[j]
                if a == b or _are_two_people(names[first.row], names[second.row]):
                    continue
                if known[a] > ESTABLISHED and known[b] > ESTABLISHED:
                    continue
                distance = OSA.distance(a, b, score_cutoff=1)
                if distance <= 1 and not _are_two_words(a, b):
                    yield first, second, f"“{a}” and “{b}” are one letter apart"
                elif compute_sound_key(a) == compute_sound_key(b):
                    yield first, second, f"“{a}” and “{b}” sound alike"


@lru_cache(maxsize=4096)
def _list_shortened(word: str) -> tuple[str, ...]:
    """Return the word, each form of it with one letter deleted, and its sound: words that share one are worth
    comparing. Sorted, so that equal lists get equal questions."""
    return tuple(
        dict.fromkeys([word, f"~{compute_sound_key(word)}", *(word[:i] + word[i + 1 :] for i in range(len(word)))])
    )


def _are_two_words(a: str, b: str) -> bool:
    """Return whether words one letter apart are two names: Mario and Maria, Eric and Erica, Tim and Tom."""
    if a in SUFFIXES or b in SUFFIXES:
        return True
    short_word, long_word = sorted((a, b), key=len)
    if len(short_word) < len(long_word):
        return long_word == short_word + "a" or len(long_word) <= 3
    at = next(i for i in range(len(a)) if a[i] != b[i])
    if a[at + 1 :] != b[at + 1 :]:
        return False  # two letters swapped
    if at == len(a) - 1 and {a[at], b[at]} <= set("aeo"):
        return True
    return len(a) < 6 and compute_sound_key(a) != compute_sound_key(b)


_SOUNDS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern), heard)
    for pattern, heard in (
        (r"ph", "f"), (r"ck|q", "k"), (r"c(?=[eiy])", "s"), (r"c(?!h)", "k"), (r"ch", "k"), (r"z", "s"), (r"w", "v"),
        (r"ei|ey|ie|ay|ai|y|j(?=[^aeiou])", "i"), (r"ou|oo", "u"), (r"(?<=.)h", ""), (r"(.)\1+", r"\1"),
        (r"(?<=[^aeiou].)e$|(?<=[^aeiou])e$", ""),
    )
)  # fmt: skip


@lru_cache(maxsize=4096)
def compute_sound_key(word: str) -> str:
    """Compute a rough spelling by sound, for European names: Katherine and Catherine, Jon and John, Stephen and Stefen,
    Meyer and Meier are equal. Own rules, no source; used only to ask, never to change."""
    for pattern, heard in _SOUNDS:
        word = pattern.sub(heard, word)
    return word
