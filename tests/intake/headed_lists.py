"""Lists with odd headings or with none, and what `plaques start` has to make of each.

`python tests/intake/headed_lists.py` prints how many are read correctly, both ways. All people are invented.
"""

from __future__ import annotations

import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipeline.core.config.order import ListConfig
from pipeline.core.errors import CannotRun
from pipeline.intake.new_order import plan_order
from pipeline.intake.new_order_text import write_order_text
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from tests.intake.one_list import read_one_list

Line = tuple[object, ...]
TITLE: tuple[Line, ...] = (("Plaques for the harbour fair",), ())

PEOPLE = ("Ada Kittiwake", "Björn Ærøskarv", "Isolde Carrick", "Rhys ap Gwylan", "Tuija Lokkinen", "Bo Tern")
FIRST = ("Ada", "Björn", "Isolde", "Rhys", "Tuija", "Bo")
LAST = ("Kittiwake", "Ærøskarv", "Carrick", "Gwylan", "Lokkinen", "Tern")
TOWNS = ("Mewport", "Skarvik", "Mewport", "Aberwylan", "Lokinlahti", "Ternby")
POSTS = ("Warden", "Boatman", "Warden", "Cook", "Ice Watch", "Pilot")
COUNTS = (1, 2, 1, 1, 3, 1)
NUMBERS = (1, 2, 3, 4, 5, 6)
FISH = ("Ling", "Cod", "Cod", "Bass", "Ling", "Pollack")
BOATS = ("Marigold", "Seal", "Puffin II", "Sanderling", "Orca", "Dunlin")
CAKES = ("Plum cake", "Seed cake", "Parkin", "Gingerbread", "Simnel", "Plum cake")
AGES = ("U9", "U9", "U11", "U11", "U13", "U13")
DATES = ("3 May 2026", "4 May 2026", "5 May 2026", "6 May 2026", "7 May 2026", "8 May 2026")
FIRMS = ("Harbour Café Ltd", "Tern & Sons", "The Gannet Inn", "Mewport Boatyard", "Saltmarsh Dairy")
TITLED = ("Mr", "Mrs", "Ms", "Dr", "Mr", "Mx")
IDS = ("D-001", "D-002", "D-003", "D-004", "D-005", "D-006")
MAIL = ("ada@mew.example", "bo@mew.example", "cy@mew.example", "di@mew.example", "ed@mew.example", "flo@mew.example")
GREEK = ("Ελένη Γλάρου", "Νίκος Κορμοράνος", "Μαρία Πελαγίσια", "Πέτρος Θαλάσσης")
RUSSIAN = ("Анна Чайкина", "Пётр Бакланов", "Вера Гагарова", "Илья Морской")
JAPANESE = ("風早 海斗", "磯野 千鳥", "浜田 かもめ", "汐見 渚")
HEBREW = ("מרים שחף", "רות עגור", "דוד אנפה", "יעל ברבור")
ARABIC = ("مريم النورس", "يوسف البحري", "ليلى الساحل", "حسن الموج")


def beside(*columns: tuple[object, ...]) -> tuple[Line, ...]:
    """Turn columns into rows."""
    return tuple(zip(*columns, strict=False))


@dataclass(frozen=True)
class Case:
    """A list: its rows, the header row (0: none), the name columns, the rows that aren't recipients."""

    what: str
    rows: tuple[Line, ...]
    header: int
    name: str = "A"
    others: frozenset[int] = frozenset()  # rows that are titles, greetings or section headings


def headed(head: Line, body: tuple[Line, ...], name: str = "A", title: tuple[Line, ...] = TITLE) -> Case:
    """A list with a title and a header."""
    row = len(title) + 1
    above = frozenset(n for n, line in enumerate(title, 1) if line)
    return Case(" · ".join(map(str, head)), (*title, head, *body), row, name, above)


def bare(what: str, *body: Line, name: str = "A", others: tuple[int, ...] = ()) -> Case:
    """A list without a header."""
    return Case(what, body, 0, name, frozenset(others))


TWO = beside(PEOPLE, TOWNS)
HEADED = (
    headed(("Who", "Town"), TWO, title=(("Wardens of the Shore",),)),
    headed(("Recipient",), beside(PEOPLE)),
    headed(("Award to", "Prize"), beside(PEOPLE, POSTS)),
    headed(("Engrave as", "Qty"), beside(PEOPLE, COUNTS)),
    headed(("Line 1", "Line 2"), TWO),
    headed(("Nom", "Prénom"), beside(LAST, FIRST), name="B A"),
    headed(("Name auf Schild", "Menge"), beside(PEOPLE, COUNTS)),
    headed(("Nombre", "Categoría"), beside(PEOPLE, POSTS)),
    headed(("Nombre y apellidos", "Curso"), beside(PEOPLE, ("3A", "3B", "3A", "4C", "4A", "4A"))),
    headed(("Goes on the plate", "Room"), beside(PEOPLE, (12, 14, 15, 21, 22, 30))),
    headed(("To whom", "For what"), beside(PEOPLE, POSTS)),
    headed(("Preisträger", "Disziplin"), beside(PEOPLE, POSTS)),
    headed(("Lauréat", "Prix"), beside(PEOPLE, POSTS)),
    headed(("Premiato", "Squadra"), TWO),
    headed(("Naam op bord", "Afdeling"), TWO),
    headed(("Mottagare", "Klubb"), TWO, title=()),
    headed(("Saaja", "Laji"), beside(PEOPLE, POSTS)),
    headed(("Laureat", "Kategoria"), beside(PEOPLE, POSTS), title=()),
    headed(("Díjazott", "Kategória"), beside(PEOPLE, POSTS)),
    headed(("Βραβευόμενος", "Πόλη"), beside(GREEK, ("Λιμένας", "Γλάρος", "Λιμένας", "Ακτή"))),
    headed(("Получатель", "Город"), beside(RUSSIAN, ("Чайкин", "Морск", "Морск", "Гагры"))),
    headed(("受賞者", "部門"), beside(JAPANESE, ("海", "浜", "海", "浜"))),
    headed(("Bewohner", "Zimmer"), beside(PEOPLE, NUMBERS)),
    headed(("Angler", "Fish", "Weight"), beside(PEOPLE, FISH, (3.2, 4, 5.5, 2, 6, 1))),
    headed(("Boat", "Skipper", "Sail no"), beside(BOATS, PEOPLE, (11, 40, 7, 8, 91, 5)), name="B"),
    headed(("Donor", "Gift level"), beside(PEOPLE, ("Gold", "Gold", "Silver", "Silver", "Bronze", "Bronze"))),
    headed(("text on brass", "font size"), beside(PEOPLE, (12, 12, 12, 10, 12, 12))),
    headed(("person", "stand no."), beside(PEOPLE, NUMBERS)),
    headed(("NAMES",), beside(PEOPLE)),
    headed(("Whose", "Where from"), TWO),
    headed(("Homenageado", "Cidade"), TWO),
    headed(("Full Name", "Preferred Name", "House"), beside(PEOPLE, FIRST, ("Oak", "Elm", "Elm", "Ash", "Oak", "Ash"))),
    headed(("Jméno a příjmení", "Třída"), beside(PEOPLE, ("3.A", "3.B", "3.A", "4.C", "4.A", "4.A"))),
    headed(("wording", "pcs"), beside(PEOPLE, COUNTS)),
    headed(("Ort", "Vor- und Nachname"), beside(TOWNS, PEOPLE), name="B"),
    headed(("#", "Kid", "Age group"), beside(NUMBERS, PEOPLE, AGES), name="B"),
    headed(("Champion",), beside(PEOPLE)),
    headed(("Baker", "Cake"), beside(PEOPLE, CAKES)),
    headed(("First", "Family"), beside(FIRST, LAST), name="A B"),
    headed(("שם", "עיר"), beside(HEBREW, ("חוף", "ים", "חוף", "ים"))),
)  # fmt: skip

BARE = (
    bare("names", *beside(PEOPLE)),
    bare("a title and names", ("Wardens of the Shore 2026",), *beside(PEOPLE), others=(1,)),
    bare("numbered", *beside(NUMBERS, PEOPLE), name="B"),
    bare("names and posts", *beside(PEOPLE, POSTS)),
    bare("names and towns", *TWO),
    bare("family name first", *((f"{b}, {a}",) for a, b in zip(FIRST, LAST, strict=True))),
    bare("teams of one word", *beside(("Harriers", "Rovers", "Striders", "Wanderers", "Pilgrims"))),
    bare("houses before names", *beside(("Oak", "Elm", "Elm", "Ash", "Oak", "Ash"), PEOPLE), name="B"),
    bare("courtesy titles", *((f"{t} {n}",) for t, n in zip(TITLED, PEOPLE, strict=True))),
    bare("capitals", *((n.upper(), p) for n, p in zip(PEOPLE, POSTS, strict=True))),
    bare("small letters", *((n.lower(),) for n in PEOPLE)),
    bare("names and years", *beside(PEOPLE, (2019, 2020, 2021, 2022, 2023, 2024))),
    bare("names and dates", *beside(PEOPLE, DATES)),
    bare("Japanese", *beside(JAPANESE)),
    bare("Greek", *beside(GREEK)),
    bare("Russian", *beside(RUSSIAN)),
    bare("Hebrew", *beside(HEBREW)),
    bare("Arabic", *beside(ARABIC)),
    bare("firms", *beside(FIRMS)),
    bare("one word first", ("Zuleika",), *beside(PEOPLE)),
    bare("one word first, with towns", ("Zuleika", "Mewport"), *TWO),
    bare("sections", ("Gold",), *beside(PEOPLE[:3], TOWNS), ("Silver",), *beside(PEOPLE[3:], TOWNS), others=(1, 5)),
    bare("a greeting", ("Dear engraver,",), ("here are the names for the plaques:",), *beside(PEOPLE), others=(1, 2)),
    bare("couples", *((f"{n} & Xaver Nightjar",) for n in PEOPLE)),
    bare("letters after the name", *((f"{n} OBE",) for n in PEOPLE)),
    bare("first and family name", *beside(FIRST, LAST), name="A B"),
    bare("names and counts", *beside(PEOPLE, COUNTS)),
    bare("ids and addresses", *beside(IDS, PEOPLE, MAIL), name="B"),
    bare("dedications", *((f"In loving memory of {n}, who sat here",) for n in PEOPLE)),
    bare("a title, names and towns", ("Mewport Rowing Club",), *TWO, others=(1,)),
    bare("boats and skippers", *beside(BOATS, PEOPLE), name="B"),
    bare("two names", ("Ada Kittiwake",), ("Bo Tern",)),
    bare("a name with a post of another kind first", ("Ada Kittiwake", "Chair"), *beside(PEOPLE[1:], ("Warden",) * 5)),
    bare("short names", *beside(("A. Skua", "B. Tern", "C. Knot", "D. Auk"))),
    bare("a champion among them", *beside(PEOPLE), ("Grace Champion",), ("Guy Winner",)),
)  # fmt: skip


@dataclass(frozen=True)
class Made:
    """The result of a case."""

    right: bool
    silent: bool  # a row was handled wrongly and nothing was reported
    said: str


def make(case: Case, folder: Path) -> Made:
    """Start an order for a case and read the list with it."""
    path = folder / "list.csv"
    width = max(len(line) for line in case.rows)
    quoted = (",".join(f'"{cell}"' if "," in str(cell) else str(cell) for cell in (*line, *[""] * width)[:width])
              for line in case.rows)  # fmt: skip
    path.write_text("\n".join(quoted) + "\n", encoding="utf-8")
    try:
        plan = plan_order(path)
    except CannotRun as problem:
        return Made(False, False, str(problem.faults[0]))
    part = ListConfig.model_validate(tomllib.loads(write_order_text(plan))["list"])
    done = read_one_list(read_sheet(path), part, ["name"])
    taken = {r.row: r for r in done.recipients}
    meant = {n for n, line in enumerate(case.rows, 1) if line and n != case.header and n not in case.others}
    columns = dict(done.columns)["name"]
    asked = {n for n, r in taken.items() if any(f.code == "list.perhaps-not-a-name" for f in r.findings)}
    lost, extra = meant - set(taken), set(taken) - meant
    right = not lost and extra <= asked and not (asked & meant) and columns == case.name
    unsure = any(doubt.startswith(("header", "name")) for doubt in plan.unsure)
    silent = (not right and not (unsure and (lost or columns != case.name))) or bool(extra - asked)
    said = (
        f"header {plan.header.value}, name {columns}, lost {sorted(lost)}, extra {sorted(extra)}, asked {sorted(asked)}"
    )
    return Made(right, silent, f"{said}; {plan.unsure}")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for word, cases in (("with a header", HEADED), ("without", BARE)):
            made = [make(case, Path(folder)) for case in cases]
            for case, found in zip(cases, made, strict=True):
                if not found.right:
                    print(f"{'SILENT' if found.silent else 'wrong '} {case.what}: {found.said}")
            right = sum(found.right for found in made)
            silent = sum(found.silent for found in made)
            print(f"{word}: {right} of {len(cases)} right, {len(cases) - right} wrong, {silent} of these silently")


if __name__ == "__main__":
    main()
