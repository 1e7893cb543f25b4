"""What headings mean, and which column is which by its heading.

*Heading*: what a column is called in the sheet. *Key*: what the order calls it (`name`, `post`, `copies` …).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping

COPIES, LANGUAGE = "copies", "language"
"""The two keys that are not lettering."""


def fold(heading: str) -> str:
    """A heading without what is forgiven: capitals, spacing, line breaks, marks at its ends."""
    text = unicodedata.normalize("NFKC", heading).casefold()
    return re.sub(r"\s+", " ", text).strip(" \t:;.,*?!#-–—_()[]'\"")


# --- what headings are called ----------------------------------------------------------------------------------

WORDS: dict[str, tuple[str, ...]] = {
    "name": (
        "name", "names", "full name", "recipient", "recipients", "recipient name", "name of recipient", "awardee",
        "winner", "winners", "honoree", "member", "person", "volunteer", "participant", "engraving name",
        "name on plaque", "name on award", "name to be engraved", "name for engraving", "name as it should appear",
        "dedicatee", "in memory of", "dedicated to", "student", "pupil", "employee", "inscription", "engraving",
        "nom", "nombre", "nome", "naam", "navn", "namn", "nimi", "jméno", "nazwa", "imię i nazwisko", "név", "όνομα",
        "имя", "фио", "שם", "الاسم", "姓名", "氏名", "名前", "이름",
    ),
    "first": ("first name", "first", "forename", "given name", "given names", "firstname", "prénom", "vorname",
              "voornaam", "fornavn", "förnamn", "imię", "nombre de pila", "名"),
    "middle": ("middle name", "middle", "middle initial", "mi", "second name"),
    "last": ("last name", "last", "surname", "family name", "lastname", "nachname", "nom de famille", "achternaam",
             "etternavn", "efternavn", "efternamn", "nazwisko", "apellido", "apellidos", "cognome", "příjmení", "姓"),
    "title": ("title", "salutation", "honorific", "prefix", "titre", "titel", "anrede"),
    "suffix": ("suffix", "post-nominals", "postnominals", "letters", "letters after name"),
    "post": ("post", "position", "role", "office", "job title", "rank", "function", "capacity", "duty", "appointment"),
    "award": ("award", "category", "prize", "class", "event", "achievement", "level", "honour", "honor", "for"),
    "school": ("school", "team", "club", "organisation", "organization", "company", "department", "unit", "station",
               "branch", "house", "group", "place", "location"),
    "season": ("season", "year", "date", "years", "term", "period", "years of service", "jahr", "année", "año", "anno"),
    "text": ("text", "wording", "message", "dedication", "line", "line 2", "line 1", "verse", "epitaph"),
    COPIES: ("copies", "how many", "quantity", "qty", "no of copies", "number of copies", "no. of copies", "count",
             "number", "pieces", "no of plaques", "number of plaques", "amount", "anzahl", "quantité", "cantidad",
             "pcs", "number required", "no. required", "how many?"),
    LANGUAGE: ("language", "lang", "sprache", "langue", "idioma", "lingua"),
}  # fmt: skip
"""Headings by what they mean. Words in common use in lists; no source."""

_MEANS = {fold(word): key for key, words in WORDS.items() for word in words}


def meaning(heading: str) -> str | None:
    """What a heading means, as a key of `WORDS`; None when it is not known."""
    folded = fold(heading)
    if folded in _MEANS:
        return _MEANS[folded]
    bare = re.sub(r"\s*[(\[].*?[)\]]\s*", " ", folded).strip()
    if bare != folded and bare in _MEANS:
        return _MEANS[bare]
    words = folded.split()
    if 1 < len(words) <= 6:
        for word in (words[-1], words[0]):
            if word in ("name", "surname", "recipient", "forename", "awardee"):
                return {"surname": "last", "forename": "first"}.get(word, "name")
    return None


def guess_columns(headings: Mapping[int, str], wanted: Iterable[str] = ()) -> dict[str, tuple[int, ...]]:
    """Our keys for a header's columns (column number → heading): by their own name, then by what they mean.

    `wanted` are keys the order's lines name; each is looked for by itself, and as one of the words that mean the same.
    A name split over title, first, middle, last and suffix is put together in that order.
    """
    found: dict[str, tuple[int, ...]] = {}
    by_word: dict[str, list[int]] = {}
    for column, heading in headings.items():
        by_word.setdefault(fold(heading), []).append(column)
    meanings: dict[str, list[int]] = {}
    for column, heading in headings.items():
        if means := meaning(heading):
            meanings.setdefault(means, []).append(column)
    if "name" in by_word:
        found["name"] = (by_word["name"][0],)
    elif "name" in meanings and not ("first" in meanings and "last" in meanings):
        found["name"] = (meanings["name"][0],)
    elif "last" in meanings:
        parts = ("title", "first", "middle", "last", "suffix") if "first" in meanings else ("last",)
        found["name"] = tuple(meanings[part][0] for part in parts if part in meanings)
    elif "name" in meanings:
        found["name"] = (meanings["name"][0],)
    for key in (COPIES, LANGUAGE, "post", "award", "school", "season", "text"):
        if key in meanings:
            free = [c for c in meanings[key] if not any(c in used for used in found.values())]
            if free:
                found[key] = (free[0],)
    for key in wanted:
        if key in found:
            continue
        same = by_word.get(fold(key)) or by_word.get(fold(key.replace("_", " ").replace("-", " ")))
        means = meaning(key.replace("_", " "))
        if same:
            found[key] = (same[0],)
        elif means and means in found:
            found[key] = found[means]
        elif means and means in meanings:
            found[key] = (meanings[means][0],)
    return found
