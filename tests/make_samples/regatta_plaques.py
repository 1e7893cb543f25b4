"""Create drawings and list of `sample_orders/regatta-plaques`: the cups of an invented rowing club's regatta, with
its crest on every plaque and the badge of each class.

Run from the project's root: `python tests/make_samples/regatta_plaques.py`. Equal bytes every time; a test compares.
All sizes are invented (common practice, no source); so are the club, its crest and everybody named.
"""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

import ezdxf

TARGET = Path(__file__).resolve().parents[2] / "sample_orders" / "regatta-plaques"

WIDTH, HEIGHT, CORNER = 190.0, 70.0, 6.0
ZONES = {"CREST": (7.0, 9.0, 45.0, 61.0), "LETTERING": (48.0, 6.0, 160.0, 64.0), "BADGE": (164.0, 22.0, 184.0, 48.0)}

HEADINGS = ("Winner", "Event", "Year", "Badge")
WINNERS: list[tuple[str, str, str, str]] = [
    ("Ottilie Marchbanks", "Single sculls", "2026", "sculls"),
    ("Caspian Oyelaran", "Single sculls, juniors", "2026", "sculls"),
    ("Ffion & Dilys Trewhella", "Double sculls", "2026", "sculls"),
    ("The Withy Bed Four", "Coxed fours", "2026", "fours"),
    ("Saltmarsh Bankers IV", "Coxless fours", "2026", "fours"),
    ("Jonquil Abernethy-Sands", "Coxswain of the year", "2026", "cox"),
    ("Ragnar Þórólfsson", "Single sculls, masters", "2026", "sculls"),
    ("The Lock Keepers", "Coxed fours, veterans", "2026", "fours"),
    ("Marguerite Applethwaite", "Helper of the year", "2026", ""),
    ("Old Weir Scratch Eight", "Eights, by invitation", "2026", "eights"),
]


def _points(values: list[tuple[float, float]]) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in values)


def _svg(size: float, body: str, mm: float | None = None) -> str:
    page = f' width="{mm:g}mm" height="{mm:g}mm"' if mm else ""
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size:g} {size:g}"{page}>\n{body}</svg>\n'


def crest() -> str:
    """Draw a shield with a heron's head between two oars over three waves, as a drawing program might write it: a
    style sheet, shapes used twice, strokes, white areas left standing."""
    waves = "".join(
        f'  <path class="line" d="M-8 {y}q11 -12 22 0t22 0t22 0t22 0t22 0t22 0t22 0" clip-path="url(#inside)"/>\n'
        for y in (136, 154, 172)
    )
    return f"""<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 160 210"
  width="32mm" height="42mm">
  <title>Crest of the Heron Reach Rowing Club</title>
  <style>.line {{ fill: none; stroke: #123; stroke-width: 6; stroke-linecap: round }} .ink {{ fill: #123 }}</style>
  <defs>
    <clipPath id="inside"><path d="M28 28h104v72c0 44 -23 64 -52 79c-29 -15 -52 -35 -52 -79z"/></clipPath>
    <g id="oar">
      <rect class="ink" x="-3" y="-54" width="6" height="94" rx="3"/>
      <path class="ink" d="M-7 8h14c5 14 5 28 2 40q-9 6 -18 0c-3 -12 -3 -26 2 -40z"/>
    </g>
  </defs>
  <path class="line" d="M18 18h124v82c0 52 -28 76 -62 92c-34 -16 -62 -40 -62 -92z" stroke-linejoin="round"/>
  <use xlink:href="#oar" transform="translate(44 82) scale(.78)"/>
  <use xlink:href="#oar" transform="translate(116 82) scale(.78)"/>
  <path class="ink" d="M80 118c-9 -10 -12 -22 -8 -34c3 -9 9 -14 9 -23c0 -6 -3 -10 -8 -12c4 -10 16 -13 24 -6l22 8l-21 4
    c0 14 -7 21 -9 31c-3 12 2 20 -9 32z"/>
  <circle cx="90" cy="51" r="2.8" fill="#fff"/>
{waves}</svg>
"""


def badge(kind: str) -> str:
    """Draw the badge of a class of boats: a ring with as many oars as it has."""
    oar = '<path d="M46.5 12h7v76h-7zM41 12q9 -9 18 0l-2 24h-14z" transform="{}"/>'
    places = {
        "sculls": ("rotate(45 50 50)", "rotate(-45 50 50)"),
        "fours": ("translate(-33 0)", "translate(-11 0)", "translate(11 0)", "translate(33 0)"),
        "cox": (),
    }[kind]
    drawn = "".join(f"    {oar.format(place)}\n" for place in places)
    if kind == "cox":  # a speaking trumpet
        drawn = '    <path d="M8 46l52 -26v60l-52 -26zM68 16h12v68h-12zM24 64h14l8 26h-14z"/>\n'
    ring = '  <circle cx="50" cy="50" r="45" fill="none" stroke="#000" stroke-width="6"/>\n'
    return _svg(100, ring + f'  <g transform="translate(50 50) scale(.72) translate(-50 -50)">\n{drawn}  </g>\n')


def draw() -> ezdxf.document.Drawing:
    """Draw the plaque: round corners as bulges, zones for crest, lettering and badge."""
    ezdxf.options.write_fixed_meta_data_for_testing = True
    doc = ezdxf.new("R2000", units=4)
    for name, colour in (("EDGE", 7), *((zone, 3) for zone in ZONES)):
        doc.layers.add(name, color=colour)
    space = doc.modelspace()
    w, h, r, b = WIDTH, HEIGHT, CORNER, math.tan(math.pi / 8)
    edge = [(r, 0, 0), (w - r, 0, b), (w, r, 0), (w, h - r, b), (w - r, h, 0), (r, h, b), (0, h - r, 0), (0, r, b)]
    space.add_lwpolyline(edge, format="xyb", close=True, dxfattribs={"layer": "EDGE"})
    for zone, (x0, y0, x1, y1) in ZONES.items():
        space.add_lwpolyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], close=True, dxfattribs={"layer": zone})
    doc.classes.add_required_classes(doc.dxfversion)  # the library lists classes in the order of a set
    doc.classes.classes = dict(sorted(doc.classes.classes.items()))
    return doc


def winners() -> str:
    """Write the secretary's list."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    writer.writerows(WINNERS)
    return out.getvalue()


def files() -> dict[str, bytes]:
    """Return every file that is created, by name."""
    stream = io.StringIO()
    draw().write(stream)
    texts = {"plaque.dxf": stream.getvalue(), "winners.csv": "\ufeff" + winners(), "crest.svg": crest()}
    texts |= {f"{kind}.svg": badge(kind) for kind in ("sculls", "fours", "cox")}
    return {name: text.encode() for name, text in texts.items()}


def main() -> None:
    TARGET.mkdir(exist_ok=True)
    for name, data in files().items():
        (TARGET / name).write_bytes(data)


if __name__ == "__main__":
    main()
