"""The remedy in a message about an order file is followed word for word, and the file is accepted: 80 typical
mistakes.

The test knows no more than the message: where it is, what was found, what was expected, what to do.
"""

import copy
import re
import tomllib

import pytest

from pipeline.core.errors import CannotRun, Fault
from pipeline.cutting.cutters import choose_cutter
from pipeline.intake.order.order_file import read_order
from pipeline.lettering.shelf import Shelf
from tests.advised import MadeUp

SOUND = {
    "title": "Trial",
    "client": "Larkrise Hospice Trust",
    "list": {"file": "list.csv", "columns": {"name": "Name", "post": "Post"}},
    "blank": {"shape": "rectangle", "width": 150.0, "height": 60.0, "thickness": 8.0, "margin": 3.0},
    "cutter": {"use": "vbit-60"},
    "limits": {},
    "line": [
        {"text": "{name}", "face": "noto-sans", "cap_height": 8.0, "smallest": 6.0},
        {"text": "{post}", "face": "roboto-slab", "cap_height": 4.0},
    ],
    "finish": {"sanded_off": 0.1},
    "proof": {"paper": "A4"},
    "files": {"version": "R2010"},
}

SLIPS = (
    ("title", None),
    ("titel", "Trial"),
    ("units", "cm"),
    ("units", "inch"),
    ("list.file", "lst.csv"),
    ("list.sheets", "A"),
    ("list.header", -1),
    ("list.hidden", "keep"),
    ("list.struck", "no"),
    ("list.separator", ";;"),
    ("list.limits.rows", 0),
    ("list.columns.name", 3),
    ("list.area", "A1"),
    ("list.settled", {"list.repeatd": "asked by telephone"}),
    ("blank.shape", "rect"),
    ("blank.width", 0),
    ("blank.width", None),
    ("blank.height", "60"),
    ("blank.diameter", 50.0),
    ("blank.margin", -1.0),
    ("blank.thicknes", 8.0),
    ("blank.drawing_units", "mm"),
    ("blank.corner_radius", -2.0),
    ("cutter.use", "vbit60"),
    ("cutter.use", "v-bit"),
    ("cutter.use", None),
    ("cutter.angel", 60.0),
    ("cutter.angle", 180.0),
    ("cutter.tip", -0.1),
    ("cutter.kind", "vbit"),
    ("limits.stroke", 0.0),
    ("limits.strokes", 0.2),
    ("limits.land", "0.2"),
    ("limits.shallowest", -0.1),
    ("line.0.text", ""),
    ("line.0.text", "{nme}"),
    ("line.0.text", "{name"),
    ("line.0.face", "noto"),
    ("line.0.face", "notosans"),
    ("line.0.cap_height", 0),
    ("line.0.cap_hight", 8.0),
    ("line.0.smallest", 9.0),
    ("line.0.tightest", 5),
    ("line.0.breaks", 0),
    ("line.0.breaks", 7),
    ("line.0.align", "center"),
    ("line.0.same_size", "every"),
    ("line.0.side", "rear"),
    ("line.0.case", "upper"),
    ("line.0.arc", {"radius": 20.0, "at": "upper"}),
    ("line.0.arc", {"radius": 20.0, "sweep": 360.0}),
    ("line.0.arc", {"at": "top"}),
    ("line.0.also", ["noto"]),
    ("line.0.least_width", -5.0),
    ("finish.sanded", 0.1),
    ("finish.compensate", "yes"),
    ("proof.paper", "A5"),
    ("proof.papers", "A4"),
    ("files.version", "R14"),
    ("files.curves", "arc"),
    ("files.tolerance", 0.0),
    ("files.also", ["png"]),
    ("files.layers", {"GROVE": "CUT"}),
    ("stock", {"rough": -1.0}),
    ("stock", {"sawnoff": 1.0}),
    ("pocket", {"depth": 0.0}),
    ("pocket", {}),
    ("pocket", {"depth": 3.0, "stepover": 1.5}),
    ("pour", {"waste": 2.0}),
    ("board", {"size": []}),
    ("board", {"size": [{"length": 600.0, "width": 200.0}], "grain": "up"}),
    ("rates", {"hour": -1.0}),
    ("rates", {"currancy": "EUR"}),
    ("labels", {"columns": 0}),
    ("reading", {"distance": -1.0}),
    ("reading", {"distanse": 900.0}),
)


def place_of(order, where):
    """Return the table that a message's "[blank], layers.edge" or "[[line]] no. 1, arc.at" names, and the key in it."""
    head, _, key = where.rpartition(", ")
    at = order
    if found := re.search(r"\[\[line\]\] no\. (\d+)", head):
        at = order["line"][int(found[1]) - 1]
    elif found := re.search(r"\[(\w+)\]", where):
        at = order.setdefault(found[1], {})
    key = re.sub(r" no\. \d+$", "", key)
    *above, last = key.split(".")
    if above[:1] == ["list"] or (above and above[0] in at and isinstance(at[above[0]], dict)):
        for name in above:
            at = at[name]
    return at, last if not key.startswith("[") else ""


def follow(order, fault: Fault):
    """Do what the message says."""
    at, key = place_of(order, fault.where)
    told, expected = fault.remedy, fault.expected
    if "there is no such key" in fault.found:
        at[re.search(r"did you mean “([^”]+)”", told)[1]] = at.pop(key)
    elif found := re.search(r"did you mean “([^”]+)”", told):
        wrong = re.search(r"“\{?([^”}]+)\}?”", fault.found)[1]
        right, now = found[1], at.get(key, at)
        if wrong == key:
            at[right] = at.pop(key)
        elif isinstance(now, list):
            at[key] = [right if word == wrong else word for word in now]
        elif isinstance(now, dict):
            now[right] = now.pop(wrong)
        else:
            at[key] = now.replace(wrong, right)
    elif found := re.search(r"write (\S+)$", told):
        at[key] = tomllib.loads(f"typed = {found[1]}")["typed"]
    elif found := re.search(r"take (\w+) out", told):
        at.pop(found[1])
    elif "lower smallest" in told:
        at[key] = float(re.search(r"cap_height only ([\d.]+)", fault.found)[1])
    elif "at most tracking" in expected:
        at[key] = int(re.search(r"tracking (-?\d+)", fault.found)[1])
    elif found := re.search(r'one of "([^"]+)"', expected):
        at[key] = [found[1]] if isinstance(at[key], list) else found[1]
    elif found := re.search(r"a number (above|at least|below|at most) ([\d,.]+)", expected):
        bound = float(found[2].replace(",", ""))
        whole = isinstance(at.get(key), int) or (bound.is_integer() and "at least" in expected and bound == 1)
        more = {"above": 40, "at least": 0, "below": -1, "at most": 0}[found[1]]
        at[key] = int(bound) + more if whole else bound + more
    elif "two brackets, [[board.size]]" in expected:
        at[key] = [{"length": 600.0, "width": 200.0}]
    elif found := re.search(r'(?:e\.g\. (?:area = )?|in braces: )"([^"]+)"', expected):
        at[key] = found[1]
    elif expected.startswith("text in quotes"):
        at[key] = "Words"
    elif expected.startswith(("a length", "a number")):
        at[key] = 40.0
    elif expected.startswith('use = "…"'):
        at["use"] = "vbit-60"
    else:
        pytest.fail(f"nothing is said that can be done: {fault}")


@pytest.mark.parametrize("slip", SLIPS, ids=[f"{path}={value}" for path, value in SLIPS])
def test_following_the_message_is_enough(slip, tmp_path):
    path, value = slip
    order = copy.deepcopy(SOUND)
    *above, key = path.split(".")
    at = order
    for name in above:
        at = at[int(name)] if name.isdigit() else at.setdefault(name, {})
    if value is None:
        at.pop(key)
    else:
        at[key] = value
    said = ""
    for turn in range(3):
        MadeUp(order, [["Name", "Post"], ["Ida Vex", "Warden"]]).write(tmp_path)
        try:
            read_order(tmp_path, faces=Shelf().names, cutter=choose_cutter)
        except CannotRun as error:
            said = str(error)
            follow(order, error.faults[0])
            continue
        assert turn, "there was nothing wrong with it"
        return
    pytest.fail(f"still refused: {said}")
