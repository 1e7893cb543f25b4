"""`plaques coupon`: a test cut of strokes and lands for a cutter in a material, and its results."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.commands.paper_dates import check_date, write_date_out
from pipeline.core.config.shop_config import NO_SHOP, ShopConfig, fold_name
from pipeline.core.environment.clock import Clock
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.language.printed_command import format_command
from pipeline.core.printable import write_json_text
from pipeline.core.storage.door import read_apart, read_foreign_bytes
from pipeline.cutting.coupon import BLOCKS, CouponPlan, find_limit, plan_coupon
from pipeline.cutting.cutters import Cutter, build_shelf
from pipeline.cutting.materials import find_material
from pipeline.intake.order.error_messages import find_nearest_name
from pipeline.intake.order.shop_edits import MeasuredEdit, record_measured
from pipeline.intake.order.shop_file import SHOP_FILE, find_shop_file, find_user_home, read_shop

SHEET = "coupon.pdf"
MOST_MB = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class CouponAnswer:
    """The results of a coupon: a returned form, or the narrowest clean stroke and land in mm; without either, a coupon
    is to be written. on: the day it was measured."""

    form: Path | None = None
    stroke: float | None = None
    land: float | None = None
    on: str | None = None

    @property
    def given(self) -> bool:
        """Return whether there are results to record."""
        return self.form is not None or self.stroke is not None or self.land is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnedCoupon:
    """The values of a returned form: its identity as text, and the ticked boxes."""

    identity: str
    ticked: tuple[str, ...]
    on: str


def make_coupon(
    cutter: str,
    material: str,
    answer: CouponAnswer,
    *,
    here: Path,
    out: Path | None,
    as_json: bool,
    say: Callable[[str], object],
    clock: Clock,
) -> int:
    """Write the coupon, or record its results. here: where the search for the shop file starts. CannotRun names what
    can't be used."""
    file = find_shop_file(here, find_user_home())
    shop = NO_SHOP if file is None else read_shop(file).config
    plan = plan_coupon(_find_cutter(cutter, shop), find_material(material, shop))
    if not answer.given:
        document = _write_coupon(plan, shop, out or here / _name_folder(cutter, material))
        say(write_json_text(document, indent=1) if as_json else _describe_coupon(document, plan))
        return 0
    if file is None:
        raise CannotRun(
            Fault(
                where=SHOP_FILE,
                found="there is no shop file in this folder or above it to write into",
                expected=f"a {SHOP_FILE}",
                remedy="write the first one with `plaques start --shop FOLDER`",
            )
        )
    stroke, land, on, where = answer.stroke, answer.land, answer.on, "--on"
    if answer.form is not None:
        if stroke is not None or land is not None:
            raise CannotRun(
                Fault(where=str(answer.form), found="a form, and --strokes or --lands too", expected="one of them")
            )
        form = read_coupon_form(answer.form)
        _require_same_coupon(form, cutter, material, answer.form)
        stroke, land = _read_widths(plan, form, answer.form)
        if on is None:
            from pipeline.outputs.coupon_sheet import MEASURED

            on, where = form.on, f"{answer.form}, “{MEASURED}”"
    now = clock()
    day = write_date_out(check_date(on or "", now, where) or now[:10])
    source = f"measured on an own coupon, {day}"
    edit = MeasuredEdit(cutter=cutter, material=material, stroke=stroke, land=land, source=source)
    record_measured(file, edit)
    said = {"cutter": cutter, "material": material, "stroke": stroke, "land": land, "source": source, "file": str(file)}
    say(write_json_text(said, indent=1) if as_json else _describe_recorded(said))
    return 0


def _find_cutter(name: str, shop: ShopConfig) -> Cutter:
    shelf = build_shelf(shop)
    if name not in shelf:
        raise CannotRun(
            Fault(
                where=f"cutter “{name}”",
                found="neither on the shelf nor in a shop file",
                expected="a name from `plaques cutters`, or a [[cutter]] of your own in shop.toml",
                remedy=find_nearest_name(name, shelf),
            )
        )
    return shelf[name]


def _name_folder(cutter: str, material: str) -> str:
    words = re.findall(r"[a-z0-9]+", f"{cutter} {material}".casefold())
    return "-".join(["coupon", *words])[:80]


def _write_coupon(plan: CouponPlan, shop: ShopConfig, target: Path) -> dict[str, Any]:
    from pipeline.commands.coupon_artwork import draw_coupon, write_coupon
    from pipeline.outputs.coupon_sheet import write_coupon_sheet

    drawn = draw_coupon(plan)
    file = write_coupon(drawn, shop, target)
    paper = shop.shop.paper or "A4"
    write_coupon_sheet(target / SHEET, plan, drawn.artwork, drawn.blank, paper=paper, file=file, shop=shop.shop.name)
    return {
        "cutter": plan.cutter.name,
        "material": plan.material.name,
        "folder": str(target),
        "files": [file, SHEET],
        "strokes": list(plan.strokes),
        "lands": list(plan.lands),
        "blocks": [plan.describe_block(n) for n in range(1, BLOCKS + 1)],
    }


def _describe_coupon(document: dict[str, Any], plan: CouponPlan) -> str:
    blocks = "\n".join(f"  block {n}: {words}" for n, words in enumerate(document["blocks"], 1))
    names = (plan.cutter.name, plan.material.name)
    end = ("--",) if any(name.startswith("-") for name in names) else ()
    again = ("plaques", "coupon", *end, *names, Path(document["folder"], SHEET))
    known = "" if plan.material.known else f"\nNothing is known of “{plan.material.name}”: begin shallow."
    return (
        f"Coupon of {plan.cutter.name} in {plan.material.name}: strokes {plan.strokes[0]:g} to {plan.strokes[-1]:g} "
        f"mm, lands {plan.lands[0]:g} to {plan.lands[-1]:g} mm, in {BLOCKS} blocks.\n{blocks}{known}\n"
        f"In {document['folder']}: {' · '.join(document['files'])}\n"
        f"Cut it, tick what came out clean, then: {format_command(*again)}"
    )


def _describe_recorded(said: dict[str, Any]) -> str:
    limits = [f"{word} {said[word]:g} mm" for word in ("stroke", "land") if said[word] is not None]
    return (
        f"{said['cutter']} in {said['material']}: {', '.join(limits)}, {said['source']}.\nWritten into {said['file']}. "
        "Orders with that cutter, unchanged, in that material use it from now on."
    )


def read_coupon_form(path: Path) -> ReturnedCoupon:
    """Read the form of a returned sheet. CannotRun when it isn't a coupon's sheet, or can't be read."""
    data = read_foreign_bytes(path, "a coupon's sheet (PDF) with its boxes ticked", MOST_MB)
    return read_apart(_read_form, data, path.name, where=path)


def _read_form(data: bytes, name: str) -> ReturnedCoupon:
    from pipeline.outputs.coupon_sheet import IDENTITY
    from pipeline.signoff.returned.answers import PaperProblem
    from pipeline.signoff.returned.pdf_form import open_proof, read_form

    pdf = open_proof(data, name)
    if isinstance(pdf, PaperProblem):
        raise CannotRun(Fault(where=name, found=pdf.found, expected="a coupon's sheet (PDF)"))
    with pdf:
        form = read_form(pdf)
    if form.doubled:
        raise CannotRun(
            Fault(
                where=name, found=f"two fields are called “{form.doubled[0]}”", expected="the sheet as it was written"
            )
        )
    boxes = form.boxes
    if IDENTITY not in boxes:
        raise CannotRun(
            Fault(where=name, found="no sheet of a coupon", expected="coupon.pdf as `plaques coupon` wrote it")
        )
    on = ("Yes", "On", "1")
    ticked = tuple(
        sorted(key for key, box in boxes.items() if re.fullmatch(r"(?:stroke|land)_\d{1,2}_\d{1,2}", key)
               and box.value.lstrip("/") in on)
    )  # fmt: skip
    day = boxes["on"].value.strip()[:40] if "on" in boxes else ""
    return ReturnedCoupon(identity=boxes[IDENTITY].value, ticked=ticked, on=day)


def _require_same_coupon(form: ReturnedCoupon, cutter: str, material: str, path: Path) -> None:
    try:
        identity = json.loads(form.identity)
        told = (str(identity["cutter"]), str(identity["material"]))
    except (ValueError, KeyError, TypeError):
        raise CannotRun(
            Fault(
                where=str(path), found="it doesn't say what it is a coupon of", expected="coupon.pdf as it was written"
            )
        ) from None
    if tuple(map(fold_name, told)) != (fold_name(cutter), fold_name(material)):
        raise CannotRun(
            Fault(
                where=str(path),
                found=f"a coupon of {told[0][:60]} in {told[1][:60]}",
                expected=f"one of {cutter} in {material}",
                remedy="name the cutter and the material that it was cut with",
            )
        )


def _read_widths(plan: CouponPlan, form: ReturnedCoupon, path: Path) -> tuple[float | None, float | None]:
    marks = {}
    for key in form.ticked:
        kind, block, number = key.split("_")
        marks[kind, int(block), int(number)] = True
    stroke, land = (find_limit(plan, kind, marks) for kind in ("stroke", "land"))
    if stroke is None and land is None:
        raise CannotRun(
            Fault(
                where=str(path),
                found="no stroke and no land is ticked in every block",
                expected="what came out clean, ticked",
                remedy="tick the boxes and save the file, or give --strokes and --lands",
            )
        )
    return stroke, land
