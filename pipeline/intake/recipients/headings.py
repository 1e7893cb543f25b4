"""The meaning of headings, and the columns they identify.

*Heading*: a column's name in the sheet. *Key*: its name in the order (`name`, `post`, `copies` …).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Mapping
from functools import lru_cache

COPIES, LANGUAGE = "copies", "language"
"""The two keys that aren't lettering."""


def fold_heading(heading: str) -> str:
    """Fold a heading: capitals, spacing, underscores, line breaks and marks at its ends are ignored."""
    heading = re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z][a-z])", " ", heading.replace("_", " "))  # donor_name, donorName
    text = unicodedata.normalize("NFKC", heading).casefold().replace("’", "'")
    return re.sub(r"\s+", " ", text).strip(" \t:;.,*?!#-–—_()[]'\"")


# --- what headings are called ----------------------------------------------------------------------------------

WORDS: dict[str, tuple[str, ...]] = {
    "name": (
        "name", "names", "full name", "recipient", "recipients", "recipient name", "name of recipient", "awardee",
        "winner", "winners", "honoree", "member", "person", "volunteer", "participant", "engraving name",
        "name on plaque", "name on award", "name to be engraved", "name for engraving", "name as it should appear",
        "dedicatee", "in memory of", "dedicated to", "student", "pupil", "employee", "inscription", "engraving",
        "who", "to whom", "whom", "award to", "awarded to", "presented to", "engrave as", "to be engraved", "engrave",
        "goes to", "honouree", "laureate", "champion", "medallist", "nominee", "donor", "donors", "donor name",
        "recognition name", "display name", "plaque name", "preferred name", "print as", "appears as", "players",
        "player", "athlete", "child", "names of winners", "swimmer", "runner", "rower", "rider", "cyclist", "climber",
        "sailor", "skipper", "competitor", "contestant", "entrant", "finisher", "graduate", "teacher", "colleague",
        "exhibitor", "deceased", "departed", "sieger", "siegerin", "schwimmer", "schwimmerin",
        "läufer", "läuferin", "sportler", "sportlerin",
        "teilnehmer", "teilnehmerin", "verstorbene", "verstorbener", "nageur", "nageuse", "coureur",
        "défunt", "nadador", "nadadora", "corredor", "participante", "difunto", "nuotatore", "nuotatrice",
        "partecipante", "defunto", "zwemmer", "deelnemer", "pływak", "uczestnik", "nofiwr", "enw",
        "enw llawn", "enillydd", "enillwyr", "wording for plaque", "text to engrave",
        "nom", "nombre", "nome", "naam", "navn", "namn", "nimi", "jméno", "nazwa", "imię i nazwisko", "név", "όνομα",
        "имя", "фио", "họ và tên", "họ tên", "שם", "الاسم", "姓名", "氏名", "名前", "이름",
        "preisträger", "preisträgerin", "preisträger/in", "gewinner", "geehrte", "empfänger", "schüler", "mitglied",
        "vor- und nachname", "vor- und zuname", "voller name", "name auf schild", "text auf schild", "gravur",
        "gravurtext", "lauréat", "lauréate", "lauréats", "bénéficiaire", "gagnant", "nom complet", "nom et prénom",
        "prénom et nom", "nom à graver", "texte à graver", "gravure", "destinataire", "nombre completo",
        "nombre y apellidos", "nombre y apellido", "premiado", "premiada", "ganador", "galardonado", "destinatario",
        "texto a grabar", "alumno", "nome e cognome", "nome completo", "premiato", "vincitore", "homenageado",
        "premiado/a", "vencedor", "naam op bord", "volledige naam", "winnaar", "ontvanger", "mottagare", "vinnare",
        "modtager", "vinder", "mottaker", "vinner", "fullt navn", "saaja", "voittaja", "laureat", "zwycięzca",
        "odznaczony", "jméno a příjmení", "vítěz", "oceněný", "díjazott", "nyertes", "teljes név", "ονοματεπώνυμο",
        "βραβευόμενος", "νικητής", "получатель", "награждённый", "победитель", "ф.и.о", "имя и фамилия", "受賞者",
        "获奖者", "수상자",
    ),
    "first": ("first name", "first", "forename", "given name", "given names", "initials",
              "christian name", "prénom", "prénoms", "vorname", "voornaam", "fornavn", "förnamn", "etunimi", "imię",
              "křestní jméno", "keresztnév",
              "nombre de pila", "nome proprio", "enw cyntaf", "名"),
    "middle": ("middle name", "middle", "middle initial", "mi", "second name", "patronymic", "отчество"),
    "last": ("last name", "last", "surname", "family name", "family", "nachname", "zuname", "familienname",
             "nom de famille", "achternaam", "etternavn", "efternavn", "efternamn", "sukunimi", "nazwisko", "apellido",
             "apellidos", "cognome", "sobrenome", "apelido", "příjmení", "vezetéknév", "cyfenw", "фамилия",
             "επώνυμο", "姓"),
    "title": ("title", "salutation", "honorific", "prefix", "titre", "civilité", "titel", "anrede"),
    "suffix": ("suffix", "post-nominals", "postnominals", "letters", "letters after name"),
    "post": ("post", "position", "role", "office", "job title", "rank", "function", "capacity", "duty", "appointment",
             "funktion", "amt", "fonction", "poste", "cargo", "puesto", "carica", "ruolo", "functie", "roll",
             "rôl", "swydd"),
    "award": ("award", "category", "prize", "class", "event", "achievement", "level", "honour", "honor", "for",
              "for what", "award name", "trophy", "medal", "preis", "kategorie", "disziplin", "prix", "catégorie",
              "premio", "categoría", "prêmio", "categoria", "prijs", "categorie", "pris", "kategori", "kategoria",
              "laji", "nagroda", "cena", "kategória", "díj", "βραβείο", "κατηγορία", "награда", "категория",
              "gwobr", "部門", "賞"),
    "school": ("school", "team", "club", "organisation", "organization", "company", "department", "unit", "station",
               "branch", "house", "group", "place", "location", "town", "city", "village", "where from", "schule",
               "verein", "ort", "stadt", "firma", "abteilung", "mannschaft", "école", "équipe", "ville", "société",
               "escuela", "equipo", "ciudad", "curso", "scuola", "squadra", "città", "escola", "equipe", "cidade",
               "afdeling", "plaats", "vereniging", "klubb", "klub", "lag", "ort/stad", "seura", "szkoła", "miasto",
               "klasa", "škola", "třída", "město", "iskola", "város", "σχολείο", "πόλη", "школа", "город", "команда",
               "clwb", "ysgol", "tref", "tîm", "עיר", "المدينة", "学校", "所属"),
    "season": ("season", "year", "date", "years", "jahre", "term", "period", "years of service", "jahr",
               "jahrgang", "datum",
               "année", "año", "fecha", "anno", "data", "ano", "jaar", "år", "vuosi", "rok", "év",
               "blwyddyn", "έτος", "год", "年"),
    "text": ("text", "wording", "message", "dedication", "line", "verse", "epitaph", "spruch", "widmung", "texte",
             "dédicace", "texto", "dedicatoria", "testo", "dedica", "tekst"),
    COPIES: ("copies", "how many", "quantity", "qty", "no of copies", "number of copies", "no. of copies", "count",
             "number", "pieces", "no of plaques", "number of plaques", "amount", "anzahl", "menge", "stück", "stk",
             "stückzahl", "quantité", "qté", "nombre d’exemplaires", "exemplaires", "cantidad", "quantità",
             "quantidade", "aantal", "antal", "antall", "määrä", "kpl", "ilość", "sztuk", "počet", "kusů", "darab",
             "db", "τεμάχια", "количество", "кол-во", "数量", "nifer", "pcs", "number required", "no. required",
             "how many?"),
    LANGUAGE: ("language", "lang", "sprache", "langue", "idioma", "lingua"),
}  # fmt: skip
"""Headings by what they mean. Words in common use in lists; no source."""

PIECES = frozenset(
    """plates plaques signs shields medals badges trophies cups awards discs disks pieces schilder medaillen plaketten
    médailles placas medallas targhe medaglie borden medailles""".split()
)
"""Plural words for pieces: over whole numbers they head how many. In common use; no source."""

WANTED = frozenset(
    """engrave engraving engraved plaque plaques wanted required needed include included confirmed approved make order
    gravieren gewünscht bestellt graver commandé grabar incluir""".split()
) | {"plaque required", "plaque wanted", "plaque needed", "needs plaque", "needs a plaque", "plaque y/n", "to engrave"}
REMARKS = frozenset(
    """note notes remark remarks comment comments instruction instructions bemerkung bemerkungen anmerkung anmerkungen
    hinweis hinweise kommentar kommentare remarque remarques commentaire commentaires observaciones nota notas
    comentario comentarios note osservazioni commenti opmerking opmerkingen uwagi nodyn nodiadau sylwadau anmärkning
    bemærkninger
    poznámka poznámky megjegyzés""".split()
) | {"special instructions", "special requests", "please note", "for the engraver", "notes for the engraver", "note to "
     "engraver", "other information", "anything else", "additional information", "further information"}  # fmt: skip
"""Headings of columns that hold remarks. In common use; no source."""
IN_CHARGE = frozenset(
    """by teacher teachers tutor coach trainer mentor parent parents guardian mother father sponsor contact nominator
    proposer seconder manager supervisor organiser organizer leader presenter judge referee lehrer lehrerin
    klassenlehrer trainerin betreuer betreuerin eltern ansprechpartner ansprechpartnerin kontakt vorgeschlagen par
    professeur enseignant entraîneur responsable parrain profesor profesora entrenador contacto padrino insegnante
    allenatore contatto referente leraar trener nauczyciel opiekun athro athrawes hyfforddwr rhiant""".split()
)
"""Words in headings of people who have to do with the list but aren't honoured by it. In common use; no source."""
NO = frozenset("n no nein non nej ei nie ne não false cancelled withdrawn declined".split())
YES = frozenset("y yes ja j oui sí sì si tak ie ydy x ✓ ✔ ☑ true wanted required confirmed".split())
UNSURE = frozenset("maybe perhaps unsure tbc tba pending later vielleicht peut-être".split()) | {"not sure"}
"""Headings that ask whether somebody is to have a plaque, and the answers that say no, yes, or neither. In common use;
no source."""

_ENGRAVED = frozenset(
    fold_heading(word)
    for word in (
        "name on plaque", "name on award", "name to be engraved", "name for engraving", "name as it should appear",
        "engraving name", "engraving", "engrave as", "engrave", "to be engraved", "inscription", "text to engrave",
        "wording for plaque", "recognition name", "display name", "plaque name", "print as", "appears as",
        "name auf schild", "text auf schild", "gravur", "gravurtext", "nom à graver", "texte à graver", "gravure",
        "texto a grabar", "naam op bord",
    )
)  # fmt: skip
"""Headings of what is to be cut; they win over a plain name beside them."""

_MEANS = {fold_heading(word): key for key, words in WORDS.items() for word in words}
_LAST_WORD = {"names": "name", "recipients": "name", "winners": "name", "name": "name", "recipient": "name",
              "awardee": "name", "surname": "last", "forename": "first"}  # fmt: skip
_PARTS = re.compile(r"\s*[/|·•\n]\s*|\s+[-–—]\s+")
_LINE = re.compile(
    r"(?:line|row|zeile|ligne|línea|riga|linha|regel|rad|linje|rivi|řádek|wiersz|sor|text)\s*(?:n[or]\.?)?\s*(\d)"
)


@lru_cache(maxsize=4096)
def find_meaning(heading: str) -> str | None:
    """Return the meaning of a heading, as a key of `WORDS`; None when unknown. Of a heading in two languages the first
    counts."""
    folded = fold_heading(heading)
    if folded in _MEANS:
        return _MEANS[folded]
    bare = re.sub(r"\s*[(\[].*?[)\]]\s*", " ", folded).strip()
    if bare != folded and bare in _MEANS:
        return _MEANS[bare]
    parts = [part for part in _PARTS.split(heading) if fold_heading(part)]
    if len(parts) > 1:
        known = [means for part in parts if (means := find_meaning(part))]
        # a group heading above a field, as in “Name / First”: the field is more specific
        return next((means for means in known if means != "name"), known[0]) if known else None
    words = folded.split()
    if 1 < len(words) <= 6:
        for word in (words[-1], words[0]):
            if word in _LAST_WORD:
                return _LAST_WORD[word]
    return None


def find_line_number(heading: str) -> int | None:
    """Return the line that a heading numbers: “Line 2” and “Line 2 / Text” head the second line of a plaque; None for
    any other heading."""
    first, *rest = [fold_heading(part) for part in _PARTS.split(heading)]
    found = _LINE.fullmatch(first)
    if found and all(_MEANS.get(part) in ("text", "name") for part in rest):
        return int(found[1])
    return None


def guess_columns(
    headings: Mapping[int, str], wanted: Iterable[str] = (), several: Collection[int] = ()
) -> dict[str, tuple[int, ...]]:
    """Guess our keys for a header's columns (column number → heading): by their own name, then by their meaning.

    `wanted` are keys that the order's lines name; each is sought by itself, and as one of its synonyms. `several` are
    columns most of whose cells hold more than one word, so they can't be family names alone. A name split over title,
    first, middle, last and suffix is put together in that order.
    """
    headings = _select_first_list(headings)
    by_word: dict[str, list[int]] = {}
    meanings: dict[str, list[int]] = {}
    lines: dict[int, int] = {}
    for column, heading in headings.items():
        by_word.setdefault(fold_heading(heading), []).append(column)
        if number := find_line_number(heading):
            lines.setdefault(number, column)
        elif means := find_meaning(heading):
            meanings.setdefault(means, []).append(column)
    found: dict[str, tuple[int, ...]] = {}
    if name := _find_name_columns(headings, meanings, several):
        found["name"] = name
    elif lines:
        found["name"] = (lines.pop(min(lines)),)
    for number, column in sorted(lines.items()):
        found["text" if number < 2 and "text" not in meanings else f"line_{number}"] = (column,)
    for key in (COPIES, LANGUAGE, "post", "award", "school", "season", "text"):
        if key in meanings and key not in found:
            free = [c for c in meanings[key] if not any(c in used for used in found.values())]
            if free:  # the most specific heading wins: “Prize” before “Class”
                best = {fold_heading(word): n for n, word in reversed(list(enumerate(WORDS[key])))}
                found[key] = (min(free, key=lambda c: (best.get(fold_heading(headings[c]), len(best)), c)),)
    for key in wanted:
        if key in found:
            continue
        same = by_word.get(fold_heading(key)) or by_word.get(fold_heading(key.replace("_", " ").replace("-", " ")))
        means = find_meaning(key.replace("_", " "))
        if same:
            found[key] = (same[0],)
        elif means and means in found:
            found[key] = found[means]
        elif means and means in meanings:
            found[key] = (meanings[means][0],)
    return found


def _select_first_list(headings: Mapping[int, str]) -> Mapping[int, str]:
    """Select the headings of the first of several lists side by side, each with a name column."""
    groups: list[dict[int, str]] = []
    for column in sorted(headings):
        if not groups or column - 1 not in groups[-1]:
            groups.append({})
        groups[-1][column] = headings[column]
    means = [{find_meaning(text) for text in group.values()} for group in groups]
    own = [n for n, found in enumerate(means) if "name" in found or {"first", "last"} <= found]
    return {c: text for group in groups[: own[1]] for c, text in group.items()} if len(own) > 1 else headings


def _find_name_columns(
    headings: Mapping[int, str], meanings: Mapping[str, list[int]], several: Collection[int]
) -> tuple[int, ...]:
    """Find the column, or the columns, that make the name; none when no heading means it."""
    names = meanings.get("name", [])
    engraved = [c for c in names if fold_heading(headings[c]) in _ENGRAVED]
    if engraved and (engraved == names or not several or engraved[0] in several):  # “Engrave?” may be yes or no
        return (engraved[0],)
    plain = [c for c in names if fold_heading(headings[c]) == "name"]
    # “Name” beside “Vorname” is the family name, beside “Surname” the given name, unless it holds whole names
    half = [c for c in names if len(fold_heading(headings[c]).split()) == 1 and c not in several]
    first, last = meanings.get("first"), meanings.get("last")
    if (first or last) and not (first and last) and half == names:
        first, last = first or half, last or half
    if first and last and not (names and names not in (first, last)):
        parts = {**meanings, "first": first, "last": last}
        return tuple(parts[part][0] for part in ("title", "first", "middle", "last", "suffix") if part in parts)
    if plain or names:
        return ((plain or names)[0],)
    return (meanings["last"][0],) if "last" in meanings else ()
