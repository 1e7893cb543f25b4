"""Orders of any size for measuring: one line that varies and two that don't, on a plain rectangle.

Every name is invented, and the same number always gives the same list. As a program it writes an order folder:
`python -m tests.bench.orders FOLDER 1000 [roman | script]`.
"""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path

GIVEN = (
    "Ada Alma Bess Cedric Clara Dora Edwin Elspeth Enid Felix Flora Gideon Greta Hazel Hugo Ida Ivor Jonas Juno Kit "
    "Lena Linus Mabel Milo Nell Orla Oswin Petra Quill Rhoda Rufus Sabine Silas Tamsin Tobias Una Verity Wilfred "
    "Xanthe Zeno Amélie Björn Chloé Dáire Élodie Jürgen Lučka Maïwenn Nuño Søren"
).split()
FAMILY = (
    "Alderwick Ashgrove Barrowby Birchall Brackenridge Calderbank Coldstream Cragwell Dunmarsh Eastering Elmhurst "
    "Fallowfield Fenwright Gannetley Greywater Hallowby Harrowgate Hollinside Inglemere Jessamy Kestrelford Kittiwick "
    "Larkrise Longmoor Marrowdale Merewether Netherby Northolme Oakenshaw Ottersley Penhallow Ploverton Quarrington "
    "Ravensby Redshank Saltmarsh Seagrave Skuaburn Ternbury Thornwick Umberleigh Vellacott Wadeford Whimbrel "
    "Whitesand Wrenfield Yarrowby Yewdale Zephyrine O’Marren"
).split()
KINDS = {
    "roman": ("roboto-slab", "montserrat", 'use = "vbit-60"', ""),
    "script": ("great-vibes", "montserrat", 'use = "laser-fine"', "[limits]\nstroke = 0.12\nland = 0.01\n"),
}
"""Face of the line that varies, face of the fixed ones, cutter, limits: what a joining script's hairlines need."""

ORDER = """\
title  = "Founders’ wall"
client = "Larkrise Hospice Trust"

[list]
file    = "names.csv"
columns = {{ name = "Name" }}
settled = {{ "list.look-alike" = "invented names are alike" }}

[blank]
shape         = "rectangle"
width         = 150
height        = 80
corner_radius = 4
thickness     = 12
margin        = 5

[cutter]
{cutter}
{limits}
[[line]]
text       = "{{name}}"
face       = "{varies}"
cap_height = 9.0
smallest   = 7.0
tightest   = -20
breaks     = 2
{more}
[[line]]
text       = "Founder of the new wing"
face       = "{fixed}"
cap_height = 5.0

[[line]]
text       = "Larkrise Hospice · 2026"
face       = "{fixed}"
cap_height = 4.5

[proof]
revision = "A"
shop     = "Saltmarsh Workshop"
{end}"""


def names(count: int) -> list[str]:
    """Return `count` invented names, all different."""
    given, family = len(GIVEN), len(FAMILY)
    out = []
    for k in range(count):
        first, last = GIVEN[k % given], FAMILY[(k // given + 7 * k) % family]
        more = k // (given * family)
        out.append(f"{first} {last}" if not more else f"{first} {chr(64 + more)}. {last}")
    return out


def list_of(rows: list[str]) -> bytes:
    """Return the list as a CSV file."""
    text = io.StringIO(newline="")
    out = csv.writer(text)
    out.writerow(["Name"])
    out.writerows([name] for name in rows)
    return text.getvalue().encode()


def write_order(folder: Path, rows: list[str], kind: str = "roman", *, more: str = "", end: str = "") -> Path:
    """Write an order folder. more: further keys of the line that varies; end: further tables."""
    varies, fixed, cutter, limits = KINDS[kind]
    folder.mkdir(parents=True, exist_ok=True)
    text = ORDER.format(varies=varies, fixed=fixed, cutter=cutter, limits=limits, more=more, end=end)
    (folder / "order.toml").write_text(text, encoding="utf-8")
    (folder / "names.csv").write_bytes(list_of(rows))
    return folder


if __name__ == "__main__":
    write_order(Path(sys.argv[1]), names(int(sys.argv[2])), *sys.argv[3:4])
