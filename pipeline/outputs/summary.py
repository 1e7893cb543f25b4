"""The terminal summary of a run: counts, what a person has to decide (worst first), where the files are."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from pipeline.core import catalogue
from pipeline.core.catalogue.list_kinds import COLUMN_UNUSED, REMARK_BESIDE
from pipeline.core.config.order import OrderFolder
from pipeline.core.design_faults import find_crowded_lines, list_held_plaques
from pipeline.core.findings import Finding, Scope, Severity
from pipeline.core.model import Outcome, Plaque
from pipeline.core.units import MM, Units
from pipeline.outputs.design_words import describe_design_fault, describe_design_remedy, describe_held
from pipeline.outputs.report import count_plaques, list_order_findings
from pipeline.outputs.revision import Revision
from pipeline.outputs.row_totals import PLAQUES, count_rows, describe_part

WIDTH = 100
"""Width of the terminal text, in characters."""

UNTIL: dict[Scope, str] = {
    "plaque": "this plaque cannot be cut",
    "order": "no plaque of the order can be cut",
    "boards": "no board files are written; the single cut files are good",
    "jigs": "no jig loads are written; the single cut files are good",
    "paper": "the shop sheet is not written; the cut files are good",
}
"""What a stop of the whole order means for the outputs."""


def make_sentence(text: str) -> str:
    """Return the words as a sentence."""
    return f"{text[:1].upper()}{text[1:]}."


def write_summary(
    outcome: Outcome, units: Units, *, where: str = "", written: Sequence[str] = (), most: int = 5
) -> str:
    """Return the summary, without a final newline.

    where: the output folder as the user would write it. written: names of what was written there, as they are to be
    shown. most: how many rows of one kind are told before "+N more".
    """
    parts = [_describe_head(outcome)]
    parts += _describe_faults(outcome, most)
    parts += _describe_order(outcome, units)
    parts += _describe_design(outcome, units, most)
    parts += _describe_stopped(outcome, units, most)
    parts += _describe_asked(outcome, units, most)
    parts += _describe_notes(outcome)
    if where:
        names = " · ".join(written)
        parts.append(f"In {where}: {names}" if names else f"Nothing was written to {where}.")
    return "\n\n".join(parts)


def summarise_outcome(
    outcome: Outcome, folder: OrderFolder, target: Path, written: Sequence[str] = (), said: Sequence[str] = ()
) -> str:
    """Return the summary of a run that wrote to the folder `target`. said: of what was not written, a line each."""
    words = write_summary(outcome, folder.order.unit, where=_quote_target(target), written=written)
    return "\n".join([words, *_describe_shop_file(folder), *said])


def describe_settled(outcome: Outcome, revision: Revision) -> Sequence[str]:
    """Say of a proof that asks the client nothing any more that it need not be sent, as a line; else none."""
    told = [f for f in list_order_findings(outcome) if f.severity is not Severity.NOTE]
    asked = any(catalogue.get_kind(f.code).client for f in told) or any(p.state == "stopped" for p in outcome.plaques)
    if not revision.settled or asked or outcome.proof_held:
        return []
    which = "Every plaque of this part" if outcome.part else "Every plaque"
    return [f"{which} is answered already: proof {revision.letter} need not be sent."]


def _describe_shop_file(folder: OrderFolder) -> Sequence[str]:
    """Describe which shop file was used, as a line; none when there is none."""
    taken = len(folder.order.list_taken_values())
    told = f"{taken or 'no'} value{'' if taken == 1 else 's'} of this order {'comes' if taken == 1 else 'come'} from it"
    return [f"Shop file {folder.shop_place}: {told}."] if folder.shop_place else []


def _quote_target(target: Path) -> str:
    """The folder as seen from where the user stands, where that is shorter."""
    try:
        return str(target.resolve().relative_to(Path.cwd()))
    except ValueError:
        return str(target)


def strip_markup(text: str) -> str:
    """Return text that cannot steer the terminal: line breaks become " / ", unprintable characters are spelled out."""
    out = []
    for char in text.replace("\r\n", "\n").replace("\n", " / "):
        if char.isprintable():
            out.append(char)
        else:
            out.append(" " if char == "\t" else f"<U+{ord(char):04X}>")
    return "".join(out)


def format_count(number: int, one: str, many: str = "") -> str:
    """Return '1 piece', '2 pieces'. many: where it is not `one` with an s."""
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def _describe_head(outcome: Outcome) -> str:
    counts = count_plaques(outcome)
    title = strip_markup(f"{outcome.title} – {outcome.client}" if outcome.client else outcome.title)
    states = [f"{counts['ready']} ready"]
    if counts["ask"]:
        states.append(f"{counts['ask']} with a question")
    if counts["stopped"]:
        states.append(f"{counts['stopped']} cannot be cut")
    if counts["faults"]:
        states[-1] += f" ({counts['faults']} because the tool failed)"
    line = f"{format_count(counts['plaques'], 'plaque', 'plaques')}: {', '.join(states)}."
    if counts["copies"] != counts["plaques"] - counts["stopped"]:
        line += f" {format_count(counts['copies'], 'piece', 'pieces')} to cut."
    part = describe_part(outcome)
    rows = count_rows(outcome, {PLAQUES: [p.recipient.row for p in outcome.plaques]})
    each = [f"  {strip_markup(file)}: {own.describe()}" for file, own in rows.split_by_list(outcome.listing)]
    return "\n".join([f"{title} ({part})" if part else title, line, rows.describe(), *each])


def wrap_text(text: str, first: str = "", rest: str = "") -> str:
    """Wrap a text for the terminal. first, rest: indentation of the first line and of the others."""
    return textwrap.fill(
        strip_markup(text),
        WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _name_plaque(plaque: Plaque) -> str:
    return strip_markup(plaque.name or "(empty)")


def _describe_faults(outcome: Outcome, most: int) -> list[str]:
    if not outcome.faults:
        return []
    lines = ["The tool itself failed (the other rows are done; details in report.json)"]
    for row, trace in outcome.faults[:most]:
        last = trace.strip().splitlines()[-1] if trace.strip() else "no details"
        lines.append(wrap_text(last, f"  row {row}  ", "          "))
    return ["\n".join(lines + _describe_more(len(outcome.faults) - most))]


def _describe_more(left: int) -> list[str]:
    return [f"  +{left} more, see check.xlsx"] if left > 0 else []


def _describe_order(outcome: Outcome, units: Units) -> list[str]:
    """Return stops and questions about the whole order, worst first."""
    told = [f for f in list_order_findings(outcome) if f.severity is not Severity.NOTE]
    if not told:
        return []
    lines = ["About the whole order"]
    for finding in sorted(told, key=lambda f: f.severity.rank):
        lines += _describe_finding(finding, units, "  ")
        if finding.severity is Severity.STOP:
            stops = catalogue.get_kind(finding.code).stops
            lines.append(f"  Until then {UNTIL['order' if stops == 'plaque' else stops]}.")  # here, all plaques
    return ["\n".join(lines)]


def _describe_finding(finding: Finding, units: Units, indent: str) -> list[str]:
    """Return the lines of a finding and of what to do about it."""
    message = wrap_text(f"{catalogue.format_message(finding, units)} [{finding.code}]", indent, indent)
    return [message, wrap_text(catalogue.format_remedy(finding, units), f"{indent}→ ", f"{indent}  ")]


def _describe_design(outcome: Outcome, units: Units, most: int) -> list[str]:
    """Return the faults of the design, once a line, each with the names it touches and what puts it right."""
    if not outcome.design:
        return []
    lines = ["The design (yours to put right; the client is not asked)"]
    for fault in outcome.design:
        codes = " ".join(f"[{count.code}]" for count in fault.faults)
        lines.append(wrap_text(f"{describe_design_fault(fault, units)} {codes}", "  ", "    "))
        names = [strip_markup(name) or f"row {row}" for row, name in zip(fault.rows, fault.names, strict=True)]
        more = f", +{len(names) - most} more" if len(names) > most else ""
        lines.append(wrap_text(f"{', '.join(names[:most])}{more}", "    ", "    "))
        lines.append(wrap_text(describe_design_remedy(fault, units), "    → ", "      "))
    if outcome.proof_held:
        held = list_held_plaques(outcome.plaques, find_crowded_lines(outcome.plaques))
        lines.append(wrap_text(describe_held(len(held), len(outcome.plaques)), "  ", "  "))
    return ["\n".join(lines)]


def _is_of_design(outcome: Outcome, finding: Finding) -> bool:
    """Return whether a finding is told with a line of the design."""
    told = ((fault.line, count.code) for fault in outcome.design for count in fault.faults)
    return (finding.line, finding.code) in set(told)


def _describe_stopped(outcome: Outcome, units: Units, most: int) -> list[str]:
    """Return each plaque that something else than the design stops with its reasons, grouped by the first one, the
    largest group first."""
    groups: dict[str, list[Plaque]] = {}
    faulty, whole = {row for row, _ in outcome.faults}, set(list_order_findings(outcome))
    for plaque in outcome.plaques:
        if plaque.recipient.row in faulty:
            continue  # listed above
        own = [f for f in plaque.findings if not _is_of_design(outcome, f)]
        stops = [f for f in own if f.severity is Severity.STOP and f not in whole]
        if stops:
            groups.setdefault(stops[0].code, []).append(plaque)
    if not groups:
        return []
    lines = [f"Cannot be cut ({sum(map(len, groups.values()))})"]
    for _, plaques in sorted(groups.items(), key=lambda item: -len(item[1])):
        for plaque in plaques[:most]:
            lines.append(f"  row {plaque.recipient.row}, {plaque.recipient.cell}: {_name_plaque(plaque)}")
            for finding in plaque.findings:
                if finding.severity is Severity.STOP and finding not in whole and not _is_of_design(outcome, finding):
                    lines += _describe_finding(finding, units, "    ")
        lines += _describe_more(len(plaques) - most)
    return ["\n".join(lines)]


def _describe_asked(outcome: Outcome, units: Units, most: int) -> list[str]:
    """Return the questions, grouped by kind: the first in full, the others by their rows."""
    groups: dict[str, list[tuple[Plaque, Finding]]] = {}
    for plaque in outcome.plaques:
        for finding in plaque.findings:
            if finding.severity is Severity.ASK and not _is_of_design(outcome, finding):
                groups.setdefault(finding.code, []).append((plaque, finding))
    if not groups:
        return []
    asked = len({id(plaque) for pairs in groups.values() for plaque, _ in pairs if plaque.state == "ask"})
    lines = [f"To be decided by a person ({asked})" if asked else "Also to be decided by a person"]
    for _, pairs in sorted(groups.items(), key=lambda item: -len(item[1])):
        plaque, finding = pairs[0]
        lines.append(f"  row {plaque.recipient.row}, {plaque.recipient.cell}: {_name_plaque(plaque)}")
        lines += _describe_finding(finding, units, "    ")
        rows = list({p.recipient.row: (p, f) for p, f in reversed(pairs)}.values())[::-1]
        others = [(p, f) for p, f in rows if p is not plaque]
        if others:
            said = [_describe_repeat(p, f) for p, f in others[: most - 1]]
            more = f", +{len(others) - len(said)} more, see check.xlsx" if len(others) > len(said) else ""
            lines.append(wrap_text(f"likewise: {', '.join(said)}{more}", "    ", "    "))
    return ["\n".join(lines)]


def _describe_repeat(plaque: Plaque, finding: Finding) -> str:
    """Return a plaque with a question shown before; for a remark, its text."""
    said = f": “{finding.get_fact('text')}”" if finding.code == REMARK_BESIDE.code else ""
    return f"row {plaque.recipient.row} {_name_plaque(plaque)}{said}"


def _describe_notes(outcome: Outcome) -> list[str]:
    """Return the counts of notes."""
    every: Iterable[Finding] = (*list_order_findings(outcome), *(f for p in outcome.plaques for f in p.findings))
    counted = Counter(f.code for f in every if f.severity is Severity.NOTE)
    if not counted:
        return []
    told = ", ".join(f"{code} × {n}" for code, n in sorted(counted.items(), key=lambda item: (-item[1], item[0])))
    unused = [f for f in list_order_findings(outcome) if f.code == COLUMN_UNUSED.code]
    named = [wrap_text(f"{catalogue.format_message(f, MM)}.", "", "  ") for f in unused]
    return ["\n".join([*named, wrap_text(f"Noted in check.xlsx: {told}", "", "  ")])]
