"""A list with every kind of fault found in clients' lists, and the truth about each row.

Rewrite it with `python tests/intake/fault_list.py`.

Clean rows are combined from first and family names that raise no question; a faulty row is a clean one with one
fault added. The truth for each row is in a file beside this one; a test compares both. All people are invented.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

TRUTH = Path(__file__).resolve().parent / "lists" / "faults-truth.tsv"
SEED = 20260503
CLEAN, EACH = 900, 8

FIRST = (
    "Morwenna Aled Isolde Tamsin Hester Tobias Wilhelmina Edda Percival Ottoline Ambrose Kester Gwenllian Philippa "
    "Jocelyn Demelza Anatole Freya Barnaby Clementine Godfrey Hamish Nerys Ulrica Cosmo Perpetua Dagny Zdeněk Łucja "
    "Björn Márta Élodie Şebnem Hortensia Lysander Ignatius Rosamund Theodora Bartholomew Cressida Evangeline Fergus "
    "Quentin Sidonie Valentin Xanthe Yorick Zuleika Benedikt Henrike"
).split()
LAST = (
    "Tregarth Penmaenmawr Carrick Pellow Lowenstoke Szélfuvás Stormhavn Zeemeeuw Quillfeather Wydrzyńska Hrafnsdóttir "
    "Dunnock Brackwater Gwylan Tidewell Rooksby Vlnolam Sandfôrd Holmvik Kittiwake Shearwater Roskruge Guillemot "
    "Martıoğlu Löwenmöwe Thrift Mewstone Bonxie Lokkinen Strandvik Razorbill Saltmarsh Tordalke Fulmarsson Whimbrel "
    "Oystermouth Turnstone Phalarope Cormorin Ganneth Eiderdal Scoterfield Pochardt Wigeonby Tealcroft Garganey "
    "Smewick Goldeneye Merganser Divering Grebeling Petrelli Skuason Noddyman Tropicbird Frigatte Boobyer Dovekie "
    "Murrelet Auklett Puffinger Lapwing Dunlinson Knottley Sanderlin Greenshank Redshanks Curlewis Godwitt Ruffian "
    "Snipeland Woodcocke Plovering Dotterell Avocetti Stiltmann Pratincole Coursery Jacamar Hoopoe"
).split()


@dataclass(frozen=True)
class Row:
    """A row of the list, what is wrong with it, and the code that should report it ("" for a clean one)."""

    name: str
    post: str
    copies: object
    fault: str = ""
    code: str = ""
    mark: str = ""  # "hidden", "struck", "comment": formatting, not text


def mojibake(name: str) -> str:
    return f"{name.split(maxsplit=1)[0]} Zdeněk".replace("ě", "Ä›")


def swap_letters(name: str) -> str:
    first, last = name.split()
    return f"{first} {last[:2]}{last[3]}{last[2]}{last[4:]}"


FAULTS: dict[str, tuple[str, Callable[[str], str]]] = {
    "equal name": ("list.repeated", lambda n: n),
    "equal but for capitals and spaces": ("list.repeated", lambda n: n.replace(" ", "  ").title()),
    "one letter more": ("list.look-alike", lambda n: n[:-2] + n[-2] * 2 + n[-1]),
    "two letters changed places": ("list.look-alike", swap_letters),
    "title in one of two": ("list.look-alike", lambda n: f"Dr {n}"),
    "family name first in one of two": ("list.look-alike", lambda n: " ".join(reversed(n.split()))),
    "cyrillic letter": ("text.mixed-script", lambda n: n.replace("e", "\u0435", 1).replace("o", "\u043e", 1)),
    "zero-width space": ("text.unseen-character", lambda n: n.replace(" ", " \u200b")),
    "control character": ("text.unseen-character", lambda n: n[:3] + "\x7f" + n[3:]),
    "right-to-left override": ("text.unseen-character", lambda n: "\u202e" + n),
    "wrongly decoded": ("text.encoding-damaged", mojibake),
    "lost letter": ("text.encoding-damaged", lambda n: n[:2] + "?" + n[3:]),
    "all in capitals": ("text.case-odd", lambda n: n.upper()),
    "small family name": ("text.case-odd", lambda n: n.split()[0] + " " + n.split()[1].lower()),
    "Mc without its capital": ("text.name-form", lambda n: f"{n.split()[0]} Mc{n.split()[1].lower()}"),
    "placeholder": ("text.placeholder", lambda n: "TBC"),
    "remark in brackets": ("text.remark-inside", lambda n: f"{n} (spelling?)"),
    "remark after a dash": ("text.remark-inside", lambda n: f"{n} - please check"),
    "two names in one cell": ("text.several-names", lambda n: f"{n}; Xaver Nightjar"),
    "numbered names in one cell": ("text.several-names", lambda n: f"1. {n}\n2. Xaver Nightjar"),
    "family name first with a comma": ("text.surname-first", lambda n: ", ".join(reversed(n.split()))),
    "doubled word": ("text.doubled-word", lambda n: f"{n.split()[0]} {n}"),
    "no space after a comma": ("text.space-odd", lambda n: f"{n},Chair"),
    "comma at the end": ("text.stray-mark", lambda n: f"{n},"),
    "nought for an o": ("text.stray-digit", lambda n: n[0] + "0" + n[2:]),
    "number in front": ("text.stray-digit", lambda n: f"7. {n}"),
    "emoji": ("text.symbol", lambda n: f"{n} 🎉"),
    "open bracket": ("text.unbalanced", lambda n: f"{n} (Bo"),
    "error": ("list.cell-error", lambda n: "#REF!"),
    "no name": ("list.name-missing", lambda n: ""),
    "hidden row": ("list.row-hidden", lambda n: n),
    "struck through": ("list.row-struck", lambda n: n),
    "comment": ("list.comment", lambda n: n),
    "copies in words": ("list.copies-unclear", lambda n: n),
    "no copies": ("list.copies-unclear", lambda n: n),
}
"""Kind of fault → the code that has to say so, and what it does to a clean name."""

TWINS = ("equal", "one letter", "two letters", "title in", "family name first in")
"""Kinds that need a second row: the clean name itself stands earlier in the list."""


def rows(clean: int = CLEAN, each: int = EACH, seed: int = SEED) -> list[Row]:
    """Return the list without its header, which is row 1 of the sheet."""
    dice = random.Random(seed)
    pairs = [f"{first} {last}" for first in FIRST for last in LAST]
    dice.shuffle(pairs)
    fresh = iter(pairs)
    made = [Row(next(fresh), "Warden", 1) for _ in range(clean)]
    late: list[Row] = []
    for fault, (code, change) in FAULTS.items():
        for _ in range(each):
            name = _usable(fault, made, fresh, dice)
            late.append(
                Row(
                    change(name),
                    "Warden",
                    {"copies in words": "a few", "no copies": None}.get(fault, 1),
                    fault,
                    code,
                    {"hidden row": "hidden", "struck through": "struck", "comment": "comment"}.get(fault, ""),
                )
            )
    dice.shuffle(late)
    twins = [row for row in late if row.fault.startswith(TWINS)]
    out = made + [row for row in late if row not in twins]
    dice.shuffle(out)
    for row in twins:  # after the clean name that they repeat
        out.insert(dice.randrange(len(out) - 40, len(out)), row)
    return out


def _usable(fault: str, made: list[Row], fresh: Iterator[str], dice: random.Random) -> str:
    """Return a name the fault can be put into; the name of a twin is one of the clean rows'."""
    while True:
        name = made[dice.randrange(len(made))].name if fault.startswith(TWINS) else next(fresh)
        last = name.split()[1]
        if fault == "cyrillic letter" and not set("eo") & set(name):
            continue
        if fault in ("nought for an o", "lost letter") and not (name[1] in "oa" and name.isascii()):
            continue
        if fault == "two letters changed places" and (last[2] == last[3] or not last.isascii() or len(last) < 6):
            continue
        if fault == "one letter more" and (not name.isascii() or name[-2] == name[-1]):
            continue
        if fault == "equal but for capitals and spaces" and not name.isascii():
            continue
        return name


def truth() -> str:
    """Return row of the sheet, kind of fault and code, one line each."""
    lines = [f"{number}\t{row.fault}\t{row.code}" for number, row in enumerate(rows(), 2) if row.fault]
    return "row\tfault\tcode\n" + "\n".join(lines) + "\n"


if __name__ == "__main__":
    TRUTH.write_text(truth(), encoding="utf-8")
    print(TRUTH, len(FAULTS), "kinds")
