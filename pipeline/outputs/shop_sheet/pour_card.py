"""The pour card of the shop sheet. It prints what is entered, or computed from what is, and no other figure of the
resin; for the rest it says what to read off the data sheet."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.core.config.order import OrderFolder
from pipeline.core.config.shop_tables import PourConfig, get_source
from pipeline.core.required import require_value
from pipeline.core.stated_values import say_computed, state
from pipeline.outputs.pdf import styles
from pipeline.outputs.shop_sheet import cautions as words
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.outputs.shop_sheet.value_origins import WALL
from pipeline.shopfloor.pour import (
    MeasuredMixes,
    PourPlan,
    choose_amount_decimals,
    format_resin_total,
    join_keys,
    measure_mixes,
)
from pipeline.shopfloor.shop_plan import ShopPlan
from pipeline.shopfloor.time_estimate import format_minutes

VOLUME = say_computed("the drawing, [pocket] depth and [pour] overfill")
LETTERS = say_computed("the lettering and the cutter")
ALL = say_computed("the volumes and the number of pieces")
WITH_WASTE = say_computed("the volumes and [pour] waste")
BY_VOLUME = say_computed("the mix and [pour] by_volume")
BY_WEIGHT = say_computed("the mix, [pour] by_weight and density")
OWN = ("overfill", "waste", "rate", "largest_mix")
"""Values of the maker's own that the card uses, besides those of the data sheet."""
_NAMES = {
    "by_volume": "ratio by volume", "by_weight": "ratio by weight", "density": "density", "layer": "layer",
    "working_time": "working time", "stirring": "stirring", "between_layers": "wait between layers",
    "demould": "wait before moving", "machine": "wait before the saw", "overfill": "height above the face",
    "waste": "waste", "rate": "pouring rate", "largest_mix": "largest mix",
}  # fmt: skip


def draw_pour_card(book: ShopPages, folder: OrderFolder, plan: ShopPlan) -> None:
    """The pour: amounts, mixes, times, and where each figure comes from."""
    pour, part = require_value(plan.pour, "the plan of the pour"), require_value(folder.order.pour, "[pour]")
    book.add_heading("Pour card", keep=60)
    book.add_cautions(words.merge_cautions((words.RESIN,)))
    if pour.missing:
        book.add_caution(
            f"Not entered under [pour]: {join_keys(pour.missing)}. Read it off the data sheet before you pour; nothing "
            "is assumed here."
        )
    book.add_facts(list(_list_facts(folder, pour, part)), 3)
    _draw_mixes(book, pour, part, measure_mixes(pour, part))
    if pour.lettering_ml:
        told = "everything the cutter reaches, to the depth stated"
        if plan.cutter.cuts_grooves:
            told = "the grooves as the bit leaves them"
        book.add_paragraph(f"Lettering is assumed to be filled to the face: {told}.", styles.SMALL)
    if not pour.mixes and (pour.layers or 1) > 1:
        book.add_paragraph(
            "How much each layer takes depends on the letters: mix and pour one, let it set as the data sheet says, "
            "then see what is left to fill.",
            styles.SMALL,
        )
    book.add_paragraph(" ".join([*_list_ways_to_measure(part), words.SHEET_RULES]), styles.SMALL)
    book.add_note(_describe_origins(part))


def _list_facts(folder: OrderFolder, pour: PourPlan, part: PourConfig) -> Iterator[tuple[str, str]]:
    units = folder.order.spoken

    def mark_stated(text: str, key: str) -> str:
        return state(text, get_source(part, key))

    letters = f" + lettering {state(_format_ml(pour.lettering_ml), LETTERS)} in all" if pour.lettering_ml else ""
    yield "One plaque", state(_format_ml(pour.pocket_ml), VOLUME) + letters
    yield "All, without waste", state(_format_ml(pour.volume), ALL)
    if part.waste is None:
        yield "Waste", "not entered: nothing is added"
    else:
        mixed = ", as mixed" if measure_mixes(pour, part).told else ""
        yield (
            f"With {mark_stated(f'{100 * part.waste:g} %', 'waste')} waste{mixed}",
            state(format_resin_total(pour, part), WITH_WASTE),
        )
    depth = "Depth"
    if part.overfill is not None:
        depth = f"Depth, {mark_stated(units.show(part.overfill), 'overfill')} of it above the face"
    yield depth, state(units.show(pour.depth), say_computed("the depth of what is filled and [pour] overfill"))
    if pour.layers is not None:
        apart = ""
        if pour.layers > 1:
            apart = ", wait between them: see the data sheet"
            if part.between_layers is not None:
                apart = f", {mark_stated(f'{part.between_layers:g} h', 'between_layers')} apart"
        yield "Layers", f"{state(pour.layers, say_computed('the depth and [pour] layer'))}{apart}"
    if part.working_time is not None:
        stirring = ""
        if part.stirring is not None:
            stirring = f", {mark_stated(f'{part.stirring:g}', 'stirring')} of them to stir and settle"
        yield "Working time", f"{mark_stated(f'{part.working_time:g} min', 'working_time')}{stirring}"
    if pour.minutes is not None:
        yield "Pouring alone", state(format_minutes(pour.minutes), say_computed("the amount and [pour] rate"))
    if part.demould is not None:
        yield "Do not move it for", mark_stated(f"{part.demould:g} h", "demould")
    if part.machine is not None:
        yield "Saw and sand after", mark_stated(f"{part.machine:g} h", "machine")
    if pour.dam is not None:
        outside = ""
        if pour.dam.outside:
            trim = get_source(require_value(folder.order.board, "[board]"), "trim")
            outside = f" + {state(units.show(pour.dam.outside), trim)} outside"
        yield "Thinnest wall round it", state(units.show(pour.dam.wall), WALL) + outside
        yield "Dam line", state(units.show(pour.dam.line), WALL) if pour.dam.line else "none needed"
    yield "Data sheet", pour.data_sheet or "not named"


def _draw_mixes(book: ShopPages, pour: PourPlan, part: PourConfig, mixes: MeasuredMixes) -> None:
    if not pour.mixes:
        return
    volumes, weights = mixes.volumes, mixes.weights
    columns = [
        TableColumn("Mix", 0.08, names=True),
        TableColumn("Layer", 0.1, names=True),
        TableColumn("Plaques", 0.12, right=True),
        TableColumn("Mix", 0.14, right=True),
    ]
    if volumes:
        columns += [TableColumn("Resin, by volume", 0.14, right=True), TableColumn("Hardener", 0.14, right=True)]
    if weights:
        how = "or resin, by weight" if volumes else "Resin, by weight"
        columns += [TableColumn(how, 0.14, right=True), TableColumn("Hardener", 0.14, right=True)]
    rows = []
    limits = [f"[pour] {key}" for key in ("largest_mix", "working_time", "rate") if getattr(part, key) is not None]
    split = say_computed("the amounts" + (f" and {', '.join(limits)}" if limits else ""))
    for k, mix in enumerate(pour.mixes):
        cells = [str(k + 1), str(mix.layer), "each" if pour.each else state(mix.plaques, split)]
        cells.append(
            state(f"{volumes[k].whole:.{volumes[k].decimals}f} ml" if volumes else _format_ml(mix.volume), split)
        )
        for measured, unit, ratio in ((volumes, "ml", BY_VOLUME), (weights, "g", BY_WEIGHT)):
            if measured:
                of = measured[k]
                cells += [state(f"{value:.{of.decimals}f} {unit}", ratio) for value in (of.first, of.second)]
        rows.append(tuple(cells))
    book.add_table(columns, rows)
    if pour.each:
        book.add_paragraph(
            "Amounts are for one plaque: how much may be mixed in one cup is not known, because neither the largest "
            "mix nor working time and pouring rate are entered. A large cup heats up and may smoke or burn.",
            styles.SMALL,
        )


def _list_ways_to_measure(part: PourConfig) -> Iterator[str]:
    if part.by_volume is not None and part.by_weight is not None:
        (a, b), (m, n) = part.by_volume, part.by_weight
        volume, weight = (
            state(f"{one:g} : {other:g}", get_source(part, key))
            for one, other, key in ((a, b, "by_volume"), (m, n, "by_weight"))
        )
        yield f"Measure by volume {volume}, or weigh {weight}; the two ratios are not the same, so never mix them up."
    elif part.by_volume is not None:
        ratio = state(f"{part.by_volume[0]:g} : {part.by_volume[1]:g}", get_source(part, "by_volume"))
        yield f"Measure by volume, {ratio}. Do not weigh it at this ratio."
    elif part.by_weight is not None:
        ratio = state(f"{part.by_weight[0]:g} : {part.by_weight[1]:g}", get_source(part, "by_weight"))
        yield f"Weigh it, {ratio}. Do not measure it by volume at this ratio."
        if part.density is None:
            yield "Its weight depends on the density, which has not been entered."


def _describe_origins(part: PourConfig) -> str:
    """Describe where every figure of the card comes from, the sources in the order they first come."""
    told: dict[str, list[str]] = {}
    for key, name in _NAMES.items():
        if getattr(part, key) is not None:
            told.setdefault(get_source(part, key), []).append(name)
    entered = [f"{', '.join(names)}: {source}" for source, names in told.items()]
    drawn = "Volumes and depth are computed from the drawing and [pocket] depth"
    return f"{drawn}{'; ' if entered else '.'}{'; '.join(entered)}{'.' if entered else ''}"


def _format_ml(value: float) -> str:
    return f"{value:.{choose_amount_decimals(value)}f} ml"
