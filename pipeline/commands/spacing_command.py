"""`plaques faces ORDER --spacing`: how the order's lines are spaced, beside the values of two published standards.

The figures are measures of what is set. They are never a statement of compliance: the standards ask for more than can
be measured here, and allow exceptions.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from statistics import median
from typing import Any

import shapely

from pipeline.checks.legibility import ADA_STROKE
from pipeline.core.model import Piece, ShapedRow
from pipeline.core.printable import write_json_text
from pipeline.job import Job, find_common_sizes, prepare
from pipeline.layout.letter_spacing import LetterGap, measure_line_pitches, measure_row_spacing
from pipeline.layout.line_texts import compose_line_texts
from pipeline.lettering.shaping import shape_row
from pipeline.order_inputs import read_inputs
from pipeline.signoff.order_snapshot import Say

ISO_GAP, ISO_WORD, ISO_STROKE = 0.2, 0.6, 0.1
"""ISO 3098-1:2015, lettering type B, in heights of the capitals: between characters, between words, width of line."""
ISO_PITCH = {"accents": 1.9, "capitals and lower case": 1.5, "capitals only": 1.3}
"""ISO 3098-1:2015, type B: baseline to baseline, by the letters in the lines."""
ADA_GAP = (0.10, 0.35)
"""2010 ADA Standards, 703.5.8: between the two closest points of adjacent characters, word spaces excluded."""
ADA_PITCH = (1.35, 1.70)
"""703.5.9: baseline to baseline."""
ADA_O = (0.55, 1.10)
"""703.5.4: width of the capital O by the height of the capital I."""

CLOSEST = 5  # how many of the closest pairs of letters are listed
ALIKE = 5e-4  # half of the last digit shown: a value this close to a limit counts as on it


@dataclass(slots=True, kw_only=True)
class LineSpacing:
    """The measurements of one line of the design over the list, in cap heights."""

    line: int
    face: str
    names: int = 0
    letters: list[LetterGap] = field(default_factory=list)
    words: list[LetterGap] = field(default_factory=list)
    pitch: list[float] = field(default_factory=list)
    pitch_rule: str = "capitals only"
    stem: float | None = None  # width of the capital I at half its height
    round: float | None = None  # width of the capital O


def measure_spacing(order: str | Path, *, say: Say, fresh: bool = False, as_json: bool = False) -> int:
    """Measure every line of the order and print the figures; return 0. CannotRun as for a run."""
    read = read_inputs(order, fresh=fresh)
    job = prepare(read.folder, read.blank, read.cache, read.client)
    for number, size in find_common_sizes(job, read.listing.recipients)[0].items():
        job.setter.tops[number - 1] = size
    found = [_measure_line(job, number) for number in range(1, len(read.folder.order.line) + 1)]
    for recipient in read.listing.recipients:
        texts, _ = compose_line_texts(read.folder.order, recipient)
        job.setter.figures = job.figures.get_for_plaque(recipient).figures
        tried = job.setter.set_lines(texts)
        for t in tried:
            line = found[t.text.line - 1]
            if t.setting is None or t.missing:
                continue
            line.names += 1
            line.pitch_rule = _describe_reason(line.pitch_rule, t.text.text)
            for placed in t.placed:
                gaps = measure_row_spacing(placed.row, job.setter.hulls, job.cutter.line_width / t.setting.cap_height)
                line.letters += gaps.letters
                line.words += gaps.words
        for group in job.setter.groups:
            for number, distances in measure_line_pitches(tried, group.lines).items():
                found[number - 1].pitch += distances
    job.keep()
    if as_json:
        say(write_json_text([_build_document(line) for line in found], indent=1))
    else:
        say("\n".join(_describe_spacing(found)))
    return 0


def _measure_line(job: Job, number: int) -> LineSpacing:
    face = job.faces[number - 1][0]
    out = LineSpacing(line=number, face=face.name)
    if face.covers("IO") and not face.single_line:
        out.stem = measure_stem(shape_row([face], "I"), job)
        ink = shape_row([face], "O").ink
        out.round = (ink[2] - ink[0]) / face.cap_units if ink else None
    return out


def measure_stem(row: ShapedRow, job: Job) -> float:
    """Return the width of a letter's ink at half the cap height."""
    shape, cap = row.shapes[0].shape, row.cap_units
    area = job.setter.hulls.area(Piece(shape=shape, scale=1 / cap, x=0.0, y=0.0))
    x0, _, x1, _ = area.bounds
    return float(area.intersection(shapely.LineString([(x0 - 1, 0.5), (x1 + 1, 0.5)])).length)


def _describe_reason(before: str, text: str) -> str:
    """Choose the line pitch of ISO 3098 for lines with these letters."""
    if before == "accents" or any(unicodedata.combining(c) for c in unicodedata.normalize("NFD", text)):
        return "accents"
    return "capitals and lower case" if before != "capitals only" or any(c.islower() for c in text) else before


def _format_spread(values: Sequence[float]) -> str:
    if not values:
        return f"{'–':>7} {'–':>7} {'–':>7}"
    return f"{min(values):7.3f} {median(values):7.3f} {max(values):7.3f}"


def _format_value(value: float) -> str:
    return f"{'':7} {value:7.3f} {'':7}"


def _describe_spacing(found: Sequence[LineSpacing]) -> list[str]:
    lines = ["Spacing of the lines as they are set, as a part of the cap height, beside the values of two standards."]
    lines.append("These are measures and no statement of compliance: the standards ask for more than is measured here.")
    for line in found:
        lines += ["", f"line {line.line}, {line.face}, {line.names} text{'s' * (line.names != 1)} set"]
        lines.append(f"  {'':24} {'least':>7} {'middle':>7} {'most':>7}   {'ISO 3098-1 type B':28} 2010 ADA 703.5")
        gaps, words = [g.width for g in line.letters], [g.width for g in line.words]
        rule = ISO_PITCH[line.pitch_rule]
        rows = [
            ("between letters", f"{_format_spread(gaps)}   {ISO_GAP:<28} {_format_range(ADA_GAP)} (703.5.8)"),
            ("between words", f"{_format_spread(words)}   {ISO_WORD:<28} –"),
            (
                "baseline to baseline",
                f"{_format_spread(line.pitch)}   {f'{rule} ({line.pitch_rule})':28} "
                f"{_format_range(ADA_PITCH)} (703.5.9)",
            ),
        ]
        if line.stem is not None and line.round is not None:
            rows.append(
                (
                    "stem of the capital I",
                    f"{_format_value(line.stem)}   {ISO_STROKE:<28} {_format_range(ADA_STROKE)} (703.5.7)",
                )
            )
            rows.append(
                ("width of the capital O", f"{_format_value(line.round)}   {'–':28} {_format_range(ADA_O)} (703.5.4)")
            )
        lines += [f"  {name:24} {shown}" for name, shown in rows]
        lines += [f"  {note}" for note in _list_notes(line)]
    return lines


def _list_notes(line: LineSpacing) -> list[str]:
    if not line.letters:
        return []
    low, high = ADA_GAP
    close: dict[str, float] = {}
    for gap in sorted(line.letters, key=lambda g: (g.width, g.between)):
        if gap.width < low - ALIKE:
            close.setdefault(gap.between, gap.width)
    wide = sum(g.width > high + ALIKE for g in line.letters)
    touching = sum(g.width == 0 for g in line.letters)
    total = len(line.letters)
    out = [
        f"of {total} pairs of letters {sum(g.width < low - ALIKE for g in line.letters)} are closer than {low:.2f} "
        f"({touching} of them touch), {wide} wider apart than {high:.2f}"
    ]
    if close:
        named = ", ".join(f"“{pair}” {width:.3f}" for pair, width in list(close.items())[:CLOSEST])
        out.append(f"the closest: {named}")
    return out


def _format_range(limits: tuple[float, float]) -> str:
    return f"{limits[0]:.2f} to {limits[1]:.2f}"


def _build_document(line: LineSpacing) -> dict[str, Any]:
    def summarise_spread(values: Sequence[float]) -> dict[str, float] | None:
        if not values:
            return None
        return {"least": round(min(values), 6), "middle": round(median(values), 6), "most": round(max(values), 6)}

    own = asdict(line)
    gaps, words = [g.width for g in line.letters], [g.width for g in line.words]
    return {
        **{key: own[key] for key in ("line", "face", "names", "stem", "round")},
        "letters": summarise_spread(gaps),
        "pairs": len(gaps),
        "pairs_touching": sum(g == 0 for g in gaps),
        "words": summarise_spread(words),
        "pitch": summarise_spread(line.pitch),
        "beside": {
            "ISO 3098-1:2015 type B": {
                "letters": ISO_GAP,
                "words": ISO_WORD,
                "pitch": ISO_PITCH[line.pitch_rule],
                "stem": ISO_STROKE,
            },
            "2010 ADA Standards 703.5": {"letters": ADA_GAP, "pitch": ADA_PITCH, "stem": ADA_STROKE, "round": ADA_O},
        },
    }
