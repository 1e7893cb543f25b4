"""`plaques compare`: options of a job side by side. Nothing is written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Severity
from pipeline.core.printable import write_json_text
from pipeline.order_inputs import read_inputs
from pipeline.order_state import build_outcome, check_plaques
from pipeline.outputs.comparison import OrderOption, compute_option_figures, format_option_table
from pipeline.shopfloor.shop_plan import plan_shop


def compare(orders: Sequence[str | Path], *, as_json: bool, say: Callable[[str], None]) -> int:
    """Set, check and plan each order, and compare the results. Returns 0. CannotRun names the order that cannot be
    run."""
    if len(orders) < 2:
        raise CannotRun(
            Fault(where="plaques compare", found="only one order is named", expected="two or more: ORDER_A ORDER_B …")
        )
    names = _name_orders([Path(o) for o in orders])
    options = []
    for name, order in zip(names, orders, strict=True):
        read = read_inputs(order)
        made = check_plaques(read)
        outcome = build_outcome(read, made, ())
        plan, said = plan_shop(read.folder, read.blank, outcome.plaques, cache=read.cache)
        read.cache.close()
        codes = tuple(dict.fromkeys(f.code for f in (*made.stops, *said) if f.severity is not Severity.NOTE))
        options.append(OrderOption(name=name, folder=read.folder, outcome=outcome, plan=plan, findings=codes))
    if as_json:
        say(write_json_text([compute_option_figures(o) for o in options], indent=1))
    else:
        say(format_option_table(options))
    return 0


def _name_orders(orders: Sequence[Path]) -> list[str]:
    """Return the folders' names, each with as much of its path as makes it unique."""
    folders = [(o.parent if o.suffix == ".toml" else o).resolve() for o in orders]
    depth = 1
    while depth < 6 and len({f.parts[-depth:] for f in folders}) < len(set(folders)):
        depth += 1
    return ["/".join(f.parts[-depth:]) for f in folders]
