"""The command line: parses, calls, prints. Everything else is imported only when its command is used."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn, TextIO

from pipeline import VERSION
from pipeline.commands.sample_designs import SAMPLE_DESIGNS
from pipeline.core.errors import CannotRun, Fault, WorkerDied
from pipeline.core.list_row import ListRow
from pipeline.core.printable import JsonText, format_for_terminal, put_in_one_line, write_json_text

LONGEST = 300
"""Most characters shown of a fault's message."""
READY, STOPPED, CANNOT_RUN, FAULT = 0, 1, 2, 3
EXITS = (
    "exit status: 0 nothing stopped, 1 at least one plaque stopped or held back, 2 could not run, "
    "3 a fault of the tool itself (if in one plaque, the others are done)"
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status. Raises only SystemExit, when the command line is wrong or asks for
    help."""
    _keep_libraries_quiet()
    try:
        args = build_parser().parse_args(argv)
        return int(args.run(args))
    except CannotRun as problem:
        _say_faults(problem)
        return CANNOT_RUN
    except WorkerDied as death:
        _warn(f"plaques: not finished: {death}")
        return FAULT
    except BrokenPipeError:
        sys.stderr.close()
        return READY
    except KeyboardInterrupt:
        _warn("\nplaques: stopped by you; every file written so far is complete")
        return CANNOT_RUN
    except Exception as fault:
        say_fault(fault)
        return FAULT


def say_fault(fault: Exception) -> None:
    """Report a fault of the tool in a few lines. The whole trace goes into a file that can be sent on; if none can be
    written, it is printed below."""
    import hashlib
    import traceback

    trace = "".join(traceback.format_exception(fault))
    told = f"{type(fault).__name__}: {fault}"
    if "Traceback (most" in told:  # an internal error in another process
        told = told.strip().splitlines()[-1]
    words = put_in_one_line(told)
    words = words if len(words) <= LONGEST else f"{words[:LONGEST]}…"
    _warn(f"plaques: a fault of the tool itself, not of the order: {words}")
    _warn("Every file written so far is complete, but the command did not finish: cut nothing from this run.")
    name = f"fault-{hashlib.sha256(trace.encode('utf-8', 'backslashreplace')).hexdigest()[:12]}.txt"
    try:
        from pipeline.core.storage.cache import find_default_folder
        from pipeline.core.storage.files import write_whole

        file = find_default_folder().with_name("plaques-faults") / name
        write_whole(file, trace.encode("utf-8", "backslashreplace"))
    except Exception:
        _warn(reduce_to_ascii(trace))
        return
    _warn(f"Please send {file} to the makers of the tool: it shows where it failed.")


def reduce_to_ascii(text: str) -> str:
    """Return the text with non-ASCII characters escaped, for any terminal."""
    return text.encode("ascii", "backslashreplace").decode("ascii")


def _say(text: object, stream: TextIO | None = None) -> None:
    """Write to the terminal. All output of a command passes here, made harmless by `core/printable.py`."""
    stream = stream or sys.stdout
    shown = text if isinstance(text, JsonText) else format_for_terminal(str(text))
    try:
        stream.write(f"{shown}\n")
    except UnicodeEncodeError:  # the terminal's encoding lacks some letters
        code = stream.encoding or "ascii"
        stream.write(f"{shown}\n".encode(code, "backslashreplace").decode(code))


def _warn(text: object) -> None:
    _say(text, sys.stderr)


def _keep_libraries_quiet() -> None:
    """Keep the warnings and log messages of libraries off the terminal."""
    import logging
    import warnings

    if not logging.getLogger().handlers:
        logging.getLogger().addHandler(logging.NullHandler())
    if not sys.warnoptions:
        warnings.simplefilter("ignore")


class CommandParser(argparse.ArgumentParser):
    """A parser that shows what was typed on one line, and lists its own arguments for the reference."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.arguments: list[argparse.Action] = []
        super().__init__(*args, **kwargs)

    def add_argument(self, *args: Any, **kwargs: Any) -> argparse.Action:
        """As in the library."""
        action = super().add_argument(*args, **kwargs)
        self.arguments.append(action)
        return action

    def error(self, message: str) -> NoReturn:
        super().error(put_in_one_line(message))


def _say_faults(problem: CannotRun) -> None:
    if len(problem.faults) == 1:
        _warn(f"plaques: cannot run: {problem.faults[0]}")
        return
    _warn(f"plaques: cannot run, {len(problem.faults)} problems to put right:")
    for fault in problem.faults:
        _warn(f"  - {fault}")


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    return build_parsers()[0]


def build_parsers() -> tuple[argparse.ArgumentParser, dict[str, CommandParser]]:
    """Return the parser of the whole command line, and the parser of each command by name."""
    parser = CommandParser(
        prog="plaques",
        description="From a client's list of names to checked cut files, a proof to sign and papers for the workshop.",
        epilog=EXITS,
    )
    parser.add_argument("--version", action="version", version=f"plaques {VERSION}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def add_command(name: str, run: Any, words: str, order: bool = True) -> CommandParser:
        sub = commands.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".", epilog=EXITS)
        sub.set_defaults(run=run)
        if order:
            sub.add_argument("order", metavar="ORDER", help="an order folder, or its order.toml")
        return sub

    def add_run_options(sub: CommandParser) -> None:
        sub.add_argument("--out", metavar="DIR", type=Path, help="write here instead of ORDER/out")
        sub.add_argument(
            "--rows",
            metavar="ROWS",
            help="only these rows, into a folder of their own: 4-20,31; of a further list, in apostrophes: "
            "'late.xlsx!3-7'",
        )
        sub.add_argument(
            "--only",
            metavar="WHICH",
            help="only plaques that now have an open question, changed since they were signed, or aren't signed: "
            "question, changed, unsigned, or several, separated by commas",
        )
        sub.add_argument("--fresh", action="store_true", help="ignore the cache and make everything again")
        sub.add_argument(
            "--workers", metavar="N", type=_parse_count, help="number of processes; default: as many as help"
        )
        sub.add_argument("--json", action="store_true", help="print the report as one JSON document and nothing else")
        sub.add_argument(
            "-v",
            "--verbose",
            action="store_true",
            help="show how long each stage took, and why there is no cache, if that is so",
        )

    start = add_command(
        "start", _start, "read a client's list and write an order folder that is ready to run", order=False
    )
    start.add_argument("list", metavar="LIST", type=Path, nargs="?", help="the client's list")
    start.add_argument(
        "--sheet", metavar="NAME", help="sheet of a workbook; default: the one that looks most like a list of names"
    )
    start.add_argument("--area", metavar="A3:C40", help="part of the sheet, if it holds several lists")
    start.add_argument(
        "--in",
        dest="folder",
        metavar="FOLDER",
        type=Path,
        help="name of the new order folder; default: after the list, beside it",
    )
    start.add_argument(
        "--drawing",
        metavar="FILE",
        type=Path,
        help="drawing of the blank (.dxf): edge, zone and holes are recognised from its layers where possible",
    )
    start.add_argument(
        "--design-of",
        metavar="ORDER",
        help="take the design of an earlier order, or of a sample: "
        + ", ".join(f"{name} ({what})" for name, what in SAMPLE_DESIGNS.items()),
    )
    start.add_argument("--drawing-units", choices=("mm", "in"), help="unit of a drawing that doesn't state its own")
    start.add_argument(
        "--shop",
        metavar="FOLDER",
        type=Path,
        help="also write a first shop file into this folder, for all orders in and below it; without LIST, only that",
    )
    start.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_run_options(
        add_command(
            "check",
            _check,
            "check the order, without writing cut files and proof; or check whether an archive would still be cut the "
            "same",
        )
    )
    run = add_command("run", _run, "the main job: check the order, then write cut files, proof and shop sheet")
    add_run_options(run)
    run.add_argument("--prove", action="store_true", help="also simulate the cut of every file")

    sign = add_command("sign", _sign, "record the client's answer in the sign-off ledger")
    sign.add_argument(
        "returned",
        metavar="RETURNED",
        nargs="*",
        type=Path,
        help="a returned proof (.pdf), check sheet (.xlsx) or message (.eml, .txt; - for standard input), or its pages "
        "as scans or photographs (.jpg, .png, .tif, .pdf), all together",
    )
    sign.add_argument("--rows", metavar="ROWS", help="record a sign-off given on paper or by letter, for these rows")
    sign.add_argument("--proof", metavar="LETTER", help="the proof that --rows or a message answers to, such as B")
    sign.add_argument(
        "--yes", action="store_true", help="record what was read from a message or pictures without asking"
    )
    sign.add_argument("--by", metavar="NAME", help="who signed")
    sign.add_argument(
        "--on",
        metavar="DATE",
        help="the date on the paper, such as 2026-11-25; the day of recording is kept in any case",
    )
    sign.add_argument("--paper", metavar="REFERENCE", help="where the paper is filed")
    sign.add_argument(
        "--void",
        metavar="NUMBERS",
        help="rows of the ledger that no longer count, such as 12 or 12-14; the change is recorded as a new row, with "
        "--by",
    )
    sign.add_argument(
        "--same-order",
        action="store_true",
        help="record that approvals under another title, client or order file are for this job",
    )
    sign.add_argument("--note", metavar="TEXT", help="with --void: why")
    sign.add_argument("--older", action="store_true", help="also record a paper of an older revision")
    sign.add_argument(
        "--decide",
        metavar="7=agreed,12=change",
        action="append",
        default=[],
        help="your reading of unclear answers, by number: agreed, change or leave",
    )
    sign.add_argument("--decided-by", metavar="NAME", help="with --decide: who decided")
    sign.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    sign.add_argument("--out", metavar="DIR", type=Path, help="output folder of the run, if not ORDER/out")

    release = add_command("release", _release, "copy out the cut files that are signed off and unchanged since")
    release.add_argument("--out", metavar="DIR", type=Path, help="output folder of the run, if not ORDER/out")
    release.add_argument(
        "--same-order",
        action="store_true",
        help="record that approvals under another title, client or order file are for this job",
    )
    release.add_argument(
        "--accept-files",
        action="store_true",
        help="record that you accept files made differently from when they were signed",
    )
    release.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    mark = add_command(
        "mark", _run_mark, "record what became of released pieces: cut, spoilt, delivered; or read a cut list"
    )
    mark.add_argument(
        "state",
        metavar="STATE",
        help="cut, spoilt or delivered; to-cut takes a mark back; or the file of a ticked cut list",
    )
    mark.add_argument(
        "--rows",
        metavar="ROWS",
        help="pieces of these rows: 5-12,17; of a further list, in apostrophes: 'late.xlsx!3-7'",
    )
    mark.add_argument("--fingerprint", metavar="CODES", help="pieces of these designs, separated by commas")
    mark.add_argument("--board", metavar="NUMBERS", help="the pieces on these boards of the last release")
    mark.add_argument("--jig", metavar="NUMBERS", help="the pieces in these loads of the jig")
    mark.add_argument(
        "--release", metavar="N", type=_parse_count, help="with --board or --jig: of this earlier release"
    )
    mark.add_argument("--pieces", metavar="N", type=_parse_count, help="this many of each row or design; default: all")
    mark.add_argument(
        "--from",
        dest="before",
        metavar="STATE",
        choices=("to-cut", "cut", "spoilt", "delivered"),
        help="only pieces that are in this state now",
    )
    mark.add_argument("--by", metavar="NAME", default="", help="who says so")
    mark.add_argument("--note", metavar="TEXT", default="", help="why, such as “letter chipped”; printed on papers")
    mark.add_argument("--out", metavar="DIR", type=Path, help="output folder of the run, if not ORDER/out")
    mark.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    history = add_command("history", _run_history, "what happened: proofs, answers, releases, marks, who and when")
    history.add_argument("-v", "--verbose", action="store_true", help="every design, and every file with its sha256")
    history.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    archive = add_command("archive", _run_archive, "write the order with all that belongs to it into one file")
    archive.add_argument("--to", metavar="FILE", type=Path, help="the file; default: beside the order folder")
    archive.add_argument("--out", metavar="DIR", type=Path, help="output folder of the run, if not ORDER/out")
    archive.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    status = add_command("status", _run_status, "one line per plaque: state, fingerprint, signed by whom and when")
    status.add_argument("--out", metavar="DIR", type=Path, help="output folder of the run, if not ORDER/out")
    status.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    compare = add_command(
        "compare", _compare, "compare options of a job: time, cost, material, names that don't fit", order=False
    )
    compare.add_argument("orders", metavar="ORDER", nargs="+", help="two or more order folders")
    compare.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    faces = add_command(
        "faces",
        _run_faces,
        "list the typefaces on the shelf, for an order's cutter and letters if one is named",
        order=False,
    )
    faces.add_argument("order", metavar="ORDER", nargs="?", help="an order folder, or its order.toml")
    faces.add_argument(
        "--like", metavar="FILE", type=Path, help="rank them by likeness to a font file or a picture of lettering"
    )
    faces.add_argument("--text", metavar="TEXT", default="", help="with --like PICTURE: the text in the picture")
    faces.add_argument(
        "--spacing", action="store_true", help="with ORDER: measure the spacing of its lines against two standards"
    )
    faces.add_argument("--sheet", metavar="PDF", type=Path, help="write a PDF that shows every typeface")
    faces.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    cutters = add_command("cutters", _run_cutters, "list the cutters on the shelf and what each can cut", order=False)
    cutters.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    stuff = add_command("materials", _run_materials, "list the materials on the shelf, or describe one", order=False)
    stuff.add_argument("name", metavar="NAME", nargs="?", help="a material, such as walnut; default: list all")
    stuff.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    coupon = add_command(
        "coupon", _run_coupon, "write a test cut of strokes and lands, and record what came out clean", order=False
    )
    coupon.add_argument("cutter", metavar="CUTTER", help="a cutter from `plaques cutters` or your shop file")
    coupon.add_argument("material", metavar="MATERIAL", help="a material from `plaques materials`, or its name")
    coupon.add_argument("returned", metavar="FORM", nargs="?", type=Path, help="the sheet with its boxes ticked (PDF)")
    coupon.add_argument(
        "--strokes", metavar="MM", type=_parse_width, help="instead of FORM: narrowest stroke that was clean"
    )
    coupon.add_argument(
        "--lands", metavar="MM", type=_parse_width, help="instead of FORM: narrowest land that was clean"
    )
    coupon.add_argument("--on", metavar="DATE", help="the day it was measured, such as 2026-11-29; default: today")
    coupon.add_argument("--out", metavar="DIR", type=Path, help="write it here; default: coupon-CUTTER-MATERIAL")
    coupon.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    explain = add_command(
        "explain", _explain, "explain a finding: what it means, why it matters, what to do", order=False
    )
    explain.add_argument("code", metavar="CODE", nargs="?", help="such as fit.too-long; default: list all")
    explain.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    return parser, dict(commands.choices)


def _parse_count(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"“{text}”: expected a number from 1 up")
    return int(text)


def _parse_width(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.001 <= value <= 10:
        raise argparse.ArgumentTypeError(f"“{text}”: expected a width in mm, such as 0.2")
    return value


def _print_json(document: Any) -> None:
    _say(write_json_text(document, indent=1))


def _run(args: argparse.Namespace, files: bool = True) -> int:
    from pipeline.run import run_order

    done = run_order(
        args.order,
        out=args.out,
        rows=args.rows,
        only=args.only,
        fresh=args.fresh,
        prove=getattr(args, "prove", False),
        files=files,
        workers=args.workers,
        progress=_Progress(),
    )
    if args.verbose:
        for name, seconds in done.timers:
            _warn(f"{seconds:8.3f} s  {name}")
        if done.not_kept:
            _warn(f"no cache, or not all of it: {done.not_kept}")
    if args.json:
        _print_json(done.report)
    else:
        _say(done.summary)
        if getattr(args, "prove", False):
            _say(_describe_proved(done.outcome.plaques))
    if done.broken:
        told = "".join(f"\n  - {line}" for line in done.broken)
        _warn(f"plaques: a fault of the tool: the accounts of this run do not add up; nothing can be released:{told}")
    for row, trace in done.outcome.faults:
        _warn(f"plaques: a fault of the tool in row {row}:\n{trace}")
    return done.exit_status


def _describe_proved(plaques: Sequence[Any]) -> str:
    """Return the worst figures of the simulated cut, each with its row."""
    worst: dict[str, tuple[float, ListRow]] = {}
    for plaque in plaques:
        for prefixed, value in plaque.proved:
            name = prefixed.removeprefix("back_")
            if value > worst.get(name, (-1.0, 0))[0]:
                worst[name] = (value, plaque.recipient.row)
    if "overcut" not in worst:
        return "Simulated cut: there is no file."
    (over, over_row), (under, under_row), (uncut, uncut_row) = (
        worst[name] for name in ("overcut", "undercut", "uncut_area")
    )
    return (
        f"Simulated cut, worst of all files: overcut {over:.4f} mm (row {over_row}), undercut {under:.4f} mm where "
        f"the cutter fits (row {under_row}), {uncut:.2f} mm² left in corners of one plaque (row {uncut_row})."
    )


def _check(args: argparse.Namespace) -> int:
    if Path(args.order).suffix.lower() == ".zip":
        from pipeline.commands.afterwards.archive_command import check_archive
        from pipeline.order_state import take_snapshot

        return check_archive(Path(args.order), as_json=args.json, say=_say, look=take_snapshot)
    return _run(args, files=False)


class _Progress:
    """A counter on stderr, shown only on a terminal."""

    def __init__(self) -> None:
        self.shown = sys.stderr.isatty()

    def __call__(self, what: str, done: int, of: int) -> None:
        if not self.shown:
            return
        if done >= of:
            sys.stderr.write("\r\x1b[K")
        else:
            sys.stderr.write(f"\r\x1b[K{put_in_one_line(what)} {done} of {of}")
        sys.stderr.flush()


def _start(args: argparse.Namespace) -> int:
    from pipeline.commands.start_command import start

    return start(
        args.list,
        folder=args.folder,
        area=args.area,
        sheet=args.sheet,
        shop=args.shop,
        drawing=args.drawing,
        drawing_units=args.drawing_units,
        design_of=args.design_of,
        say=_say,
        as_json=args.json,
    )


def _run_faces(args: argparse.Namespace) -> int:
    if args.spacing:
        from pipeline.commands.spacing_command import measure_spacing

        if args.order is None:
            raise CannotRun(Fault(where="--spacing", found="no order is named", remedy="plaques faces ORDER --spacing"))
        return measure_spacing(args.order, as_json=args.json, say=_say)
    from pipeline.commands.faces_command import list_faces

    return list_faces(
        args.order,
        like=args.like,
        text=args.text,
        sheet=args.sheet or False,
        as_json=args.json,
        say=_say,
        here=Path.cwd(),
    )


def _run_cutters(args: argparse.Namespace) -> int:
    from pipeline.commands.cutters_command import list_cutters

    return list_cutters(as_json=args.json, say=_say)


def _run_materials(args: argparse.Namespace) -> int:
    from pipeline.commands.materials_command import list_materials

    return list_materials(args.name, here=Path.cwd(), as_json=args.json, say=_say)


def _run_coupon(args: argparse.Namespace) -> int:
    from pipeline.commands.coupon_command import CouponAnswer, make_coupon
    from pipeline.core.environment.clock import get_utc_now

    answer = CouponAnswer(form=args.returned, stroke=args.strokes, land=args.lands, on=args.on)
    return make_coupon(
        args.cutter,
        args.material,
        answer,
        here=Path.cwd(),
        out=args.out,
        as_json=args.json,
        say=_say,
        clock=get_utc_now,
    )


def _can_ask(returned: Sequence[Path]) -> bool:
    """Return whether a person is at the terminal, and the message isn't read from it."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty() and Path("-") not in returned


def _confirm(question: str) -> bool:
    try:
        return input(question).strip().casefold() in ("y", "yes")
    except EOFError:
        return False


def _sign(args: argparse.Namespace) -> int:
    if args.void:
        from pipeline.commands.void import void_rows
        from pipeline.core.environment.clock import get_utc_now

        return void_rows(args.order, args.void, by=args.by or "", note=args.note or "", clock=get_utc_now, say=print)
    from pipeline.commands.sign_command import sign
    from pipeline.core.environment.clock import get_utc_now

    return sign(
        args.order,
        args.returned,
        rows=args.rows,
        proof=args.proof,
        by=args.by,
        on=args.on,
        paper=args.paper,
        older=args.older,
        decisions=args.decide,
        decided_by=args.decided_by,
        yes=args.yes,
        confirm=_confirm if _can_ask(args.returned) else None,
        as_json=args.json,
        same_order=args.same_order,
        out=args.out,
        clock=get_utc_now,
        say=_say,
    )


def _release(args: argparse.Namespace) -> int:
    from pipeline.commands.release_command import release
    from pipeline.core.environment.clock import get_utc_now
    from pipeline.order_state import take_snapshot

    return release(
        args.order,
        out=args.out,
        same_order=args.same_order,
        accept_files=args.accept_files,
        as_json=args.json,
        clock=get_utc_now,
        say=_say,
        look=take_snapshot,
    )


def _run_mark(args: argparse.Namespace) -> int:
    from pipeline.commands.afterwards.mark_command import MarkRequest, mark
    from pipeline.core.environment.clock import get_utc_now
    from pipeline.order_state import take_snapshot

    request = MarkRequest(
        what=args.state,
        rows=args.rows,
        fingerprints=args.fingerprint,
        boards=args.board,
        jigs=args.jig,
        release=args.release,
        pieces=args.pieces,
        before=args.before,
        by=args.by,
        note=args.note,
    )
    return mark(args.order, request, out=args.out, as_json=args.json, clock=get_utc_now, say=_say, look=take_snapshot)


def _run_history(args: argparse.Namespace) -> int:
    from pipeline.commands.afterwards.history_command import show_history

    return show_history(args.order, say=_say, verbose=args.verbose, as_json=args.json)


def _run_archive(args: argparse.Namespace) -> int:
    from pipeline.commands.afterwards.archive_command import archive_order
    from pipeline.order_state import take_snapshot

    return archive_order(args.order, to=args.to, out=args.out, as_json=args.json, say=_say, look=take_snapshot)


def _run_status(args: argparse.Namespace) -> int:
    from pipeline.commands.status_command import print_status
    from pipeline.order_state import take_snapshot

    return print_status(args.order, out=args.out, say=_say, look=take_snapshot, as_json=args.json)


def _compare(args: argparse.Namespace) -> int:
    from pipeline.commands.compare_command import compare

    return compare(args.orders, as_json=args.json, say=_say)


def _explain(args: argparse.Namespace) -> int:
    from pipeline.commands.explain_command import explain

    return explain(args.code, as_json=args.json, say=_say)
