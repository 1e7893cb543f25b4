"""`plaques faces`: the shelf of typefaces, what each can be used for, and which is most like a client's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.core.config.order import OrderFolder
from pipeline.core.environment.own_fonts import NO_FONTS, OwnFonts, list_own_fonts
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.model import Shape, ShapedRow
from pipeline.core.printable import write_json_text
from pipeline.core.storage.cache import Cache, find_default_folder
from pipeline.core.storage.files import write_whole
from pipeline.core.units import MM, Units
from pipeline.cutting.cutters import Cutter, choose_cutter, resolve_cutter
from pipeline.intake.order.order_file import read_order
from pipeline.intake.order.shop_file import find_shop_file, find_user_home, read_shop
from pipeline.intake.recipients.read_list import read_list
from pipeline.layout.line_texts import compose_line_texts
from pipeline.lettering.coverage import describe_permission
from pipeline.lettering.font_face import Shelf, Typeface, open_face
from pipeline.lettering.matching.likeness import (
    Likeness,
    choose_letters_to_compare,
    compare_faces,
    describe_likeness,
    judge_ranking,
    measure_letters,
    place_with_ties,
    sort_ranking,
)
from pipeline.lettering.matching.picture import SUFFIXES as PICTURES
from pipeline.lettering.matching.picture import PictureLettering, compare_line, read_picture
from pipeline.lettering.sample_letters import SAMPLES, SCRIPT_NAMES
from pipeline.lettering.shaping import shape_row
from pipeline.lettering.shelf import OWN_FONTS, ShelfFace
from pipeline.outputs.face_sheet import FaceSample, WantedFace, write_alike_sheet, write_face_sheet
from pipeline.signoff.order_snapshot import Say

LETTERS_SHOWN = 16
"""Number of letters needing the largest cap heights that are shown for the order's typefaces; --json lists all."""
RANKED = 12
"""Typefaces of a ranking that are shown."""
OWN_FOLDER = "[shop] fonts"
"""Name of the entry of --json that says why the whole folder of own fonts can't be used."""
SHEET, ALIKE = "faces.pdf", "alike.pdf"
"""File names of the sheets, in the order's output folder or the current folder."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OnShelf:
    """The description of one typeface of the shelf. Lengths in mm; None where a value doesn't apply."""

    name: str
    title: str
    role: str
    style: str
    scripts: tuple[str, ...]
    single_line: bool
    joins: bool
    licence: str
    thinnest: float | None  # narrowest stroke in cap heights
    thinnest_letter: str
    smallest: float | None = None  # cap height at which that stroke is as wide as the order's cutter needs
    sets: int | None = None  # how many of the order's texts it can set
    texts: int | None = None
    lacks: tuple[str, ...] = ()  # the order's characters that it lacks
    letters: tuple[tuple[str, float], ...] = ()  # the order's letters, each with its smallest cap height, largest first
    refused: str = ""  # why a run refuses it with the order's cutter
    fault: str = ""  # why this font of the shop, or the whole folder, can't be used


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _LetteringNeeds:
    """The order's requirements for a typeface."""

    folder: OrderFolder
    texts: tuple[str, ...]
    letters: str
    stroke: float  # width it has to have when cut, mm
    words: str  # where that width comes from
    cutter: Cutter


def list_faces(
    order: str | Path | None = None,
    *,
    say: Say,
    like: Path | None = None,
    text: str = "",
    sheet: Path | bool = False,
    out: Path | None = None,
    fresh: bool = False,
    as_json: bool = False,
    here: Path | None = None,
) -> int:
    """List the shelf, or with `like` (a font file, or a picture of a line reading `text`) rank it.

    here: where, without an order, the search for the shop file starts, which may name a folder of own fonts; None:
    there is none. sheet: also draw a PDF, to this path or (True) under its usual name; a ranking always draws one.
    Returns 0. CannotRun when the order, the font or the picture cannot be used.
    """
    cache = Cache(None if fresh else find_default_folder())
    asked = _read_needs(order) if order is not None else None
    shelf = Shelf(own=asked.folder.list_own_fonts() if asked else _find_own_fonts(here))
    opened, unusable = _open_all(shelf, cache)
    folder = out or (asked.folder.folder / "out" if asked else Path())
    missing = [f"No fonts of your own: {shelf.own.problem}"] if shelf.own.problem else []
    left_out = [*(f"Not compared: {told}" for told in unusable.values()), *missing]
    if like is not None:
        target = sheet if isinstance(sheet, Path) else folder / ALIKE
        _rank(like, text, opened, asked, target=target, say=say, left_out=left_out, as_json=as_json)
    else:
        units = asked.folder.order.unit if asked else MM
        table = [
            _describe_face(source, opened[source.name], asked, cache) for source in shelf.faces if source.name in opened
        ]
        unread = [_describe_unusable(name, told) for name, told in unusable.items()]
        if shelf.own.problem:
            unread.append(_describe_unusable(OWN_FOLDER, shelf.own.problem))
        target = sheet if isinstance(sheet, Path) else folder / SHEET
        if sheet:
            samples = [_set_sample(t, opened[t.name], shelf[t.name], units) for t in table]
            write_whole(target, write_face_sheet(samples, "Typefaces on the shelf", _set_foreign(shelf, opened)))
        if as_json:
            say(write_json_text([asdict(t) for t in (*table, *unread)], indent=1))
        else:
            lines = _format_table(table, asked, units)
            lines += [f"Not usable: {told}" for told in unusable.values()]
            say("\n".join([*lines, *missing]))
            if sheet:
                say(f"Drawn in {target}.")
    cache.close()
    return 0


def _describe_role(source: ShelfFace) -> str:
    """Describe what a typeface is for, and the languages of proofs that it lacks letters for."""
    if not source.lacks:
        return source.role
    from babel import Locale  # slow to import and seldom needed

    names = Locale("en").languages
    return f"{source.role}; lacks letters of {' and '.join(names[code] for code in source.lacks)}"


def _find_own_fonts(here: Path | None) -> OwnFonts:
    file = None if here is None else find_shop_file(here, find_user_home())
    return NO_FONTS if file is None else list_own_fonts(file, read_shop(file).config.shop.fonts)


def _open_all(shelf: Shelf, cache: Cache) -> tuple[dict[str, Typeface], dict[str, str]]:
    """Open every typeface by name; return also those of the shop's own that can't be used, with the reason."""
    opened: dict[str, Typeface] = {}
    unusable: dict[str, str] = {}
    for name in dict.fromkeys((*(source.name for source in shelf.faces), *shelf.own.files)):
        try:
            opened[name] = open_face(name, shelf=shelf, cache=cache)
        except CannotRun as problem:
            if name not in shelf.own.files:
                raise
            unusable[name] = str(problem)
    return opened, unusable


# --- the shelf ------------------------------------------------------------------------------------------------------


def _read_needs(order: str | Path) -> _LetteringNeeds:
    folder = read_order(Path(order), cutter=choose_cutter)
    cutter, limits = resolve_cutter(folder.order, folder.order.blank.thickness)
    texts = dict.fromkeys(
        t.text for recipient in read_list(folder).recipients for t in compose_line_texts(folder.order, recipient)[0]
    )
    loss = 0.0 if folder.order.finish.compensate else cutter.compute_thinning(folder.order.finish.sanded_off)
    stroke = (limits.stroke.value or 0.0) + loss
    unit = folder.order.unit
    words = f"{cutter.name} needs strokes of {unit.show(stroke)}"
    if loss:
        words += f", {unit.show(loss)} of them for sanding"
    letters = "".join(sorted({c for t in texts for c in t if not c.isspace()}))
    return _LetteringNeeds(
        folder=folder, texts=tuple(texts), letters=letters, stroke=stroke, words=words, cutter=cutter
    )


def _describe_face(source: ShelfFace, face: Typeface, asked: _LetteringNeeds | None, cache: Cache) -> OnShelf:
    profile = _measure_letters(face, asked, cache) if asked else []
    if asked:
        thinnest, letter = min(profile) if profile else (None, "")
    else:
        thinnest, letter = _find_thinnest(source, face)
    own: dict[str, Any] = {}
    if asked is not None:
        own["sets"] = sum(face.covers(t) for t in asked.texts)
        own["texts"] = len(asked.texts)
        if face.single_line and asked.cutter.cuts_grooves:
            own["refused"] = f"{asked.cutter.name} has no line of one width"
        own["lacks"] = face.list_missing("".join(asked.texts))
        if thinnest:
            own["smallest"] = asked.stroke / thinnest
            own["letters"] = tuple((letter, asked.stroke / width) for width, letter in sorted(profile))
    scripts, role, licence = source.scripts, _describe_role(source), source.licence
    if source.is_own:
        scripts = tuple(script for script, sample in SAMPLES.items() if face.covers(sample))
        role, licence = f"{face.title}; the file {describe_permission(face.fs_type)[0]}", "its own"
    return OnShelf(
        name=source.name,
        title=face.title,
        role=role,
        style=source.style,
        scripts=scripts,
        single_line=face.single_line,
        joins=face.joins,
        licence=licence,
        thinnest=thinnest,
        thinnest_letter=letter,
        **own,
    )


def _describe_unusable(name: str, fault: str) -> OnShelf:
    return OnShelf(
        name=name,
        title=name,
        role="",
        style=OWN_FONTS,
        scripts=(),
        single_line=False,
        joins=False,
        licence="",
        thinnest=None,
        thinnest_letter="",
        fault=fault,
    )


def _find_thinnest(source: ShelfFace, face: Typeface) -> tuple[float | None, str]:
    """Return the narrowest stroke over the alphabets that the shelf's table was measured with."""
    if face.single_line or source.is_own:  # their strokes were not measured for the shelf
        return None, ""
    latin = [place for place in source.thinnest if place[0] == "Latn"]
    _, width, letter = min(latin or source.thinnest, key=lambda place: place[1])
    return width, letter


def _measure_letters(face: Typeface, asked: _LetteringNeeds, cache: Cache) -> list[tuple[float, str]]:
    """Measure the narrowest stroke, in cap heights, of each letter that the order uses and the typeface has."""
    if face.single_line:
        return []
    measures = GlyphMetrics()
    found = []
    for letter in dict.fromkeys(asked.letters):
        if not face.covers(letter):
            continue
        widths = []
        for placed in shape_row([face], letter).shapes:
            shape = placed.shape
            # strokes only: lands are not measured here
            given = (shape.key, shape.cap_units)
            width = cache.get_or_compute("stroke", given, float, lambda: _measure_stroke(shape, measures))  # noqa: B023
            if width:
                widths.append(width / shape.cap_units)
        if widths:
            found.append((min(widths), letter))
    return found


def _measure_stroke(shape: Shape, measures: GlyphMetrics) -> float:
    narrow = measures.find_narrow_places(shape).strokes.find_narrowest()
    return narrow.width if narrow else 0.0


def _format_table(table: Sequence[OnShelf], asked: _LetteringNeeds | None, units: Units) -> list[str]:
    rows = [["typeface", "scripts", "thinnest", "licence", "what it is"]]
    if asked:
        rows[0].insert(3, "smallest cap height")
        rows[0].insert(4, "sets")
    for t in table:
        none = "one line" if t.single_line else "–"
        thin = none if t.thinnest is None else f"{t.thinnest:.3f} ({t.thinnest_letter})"
        row = [t.name, _format_scripts(t), thin, t.licence, t.role]
        if asked:
            row.insert(3, "refused" if t.refused else "–" if t.smallest is None else units.show(t.smallest))
            row.insert(4, f"{t.sets} of {t.texts}" + (f", lacks {' '.join(t.lacks[:6])}" if t.lacks else ""))
        rows.append(row)
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]) - 1)] + [0]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    for number in range(len(table) - 1, -1, -1):  # from the end, so that earlier indices stay valid
        if number == 0 or table[number].style != table[number - 1].style:
            lines.insert(number + 1, f"[{table[number].style}]")
    note = "thinnest: narrowest stroke as a part of the cap height, and the letter it is in"
    lines.append(f"({note}{'; ' + asked.words if asked else ''})")
    for why in dict.fromkeys(t.refused for t in table if t.refused):
        lines.append(f"(refused: a run stops, because letters of one line say no width, and {why})")
    for t in table:
        if asked and t.letters and t.name in {line.face for line in asked.folder.order.line}:
            shown = ", ".join(f"{letter} {units.format_number(size)}" for letter, size in t.letters[:LETTERS_SHOWN])
            lines.append(f"{t.name} letter by letter, smallest cap height in {units.name}: {shown}")
    return lines


def _format_scripts(t: OnShelf) -> str:
    return ", ".join(SCRIPT_NAMES.get(script, script) for script in t.scripts)


def _set_foreign(shelf: Shelf, opened: dict[str, Typeface]) -> list[tuple[str, ShapedRow]]:
    """Set the letters of other scripts that the notes name in a typeface that has them."""
    places = [(s.name, letter) for s in shelf.faces if s.name in opened for _, _, letter in s.thinnest]
    return [(letter, shape_row([opened[name]], letter)) for name, letter in places if not letter.isascii()]


def _set_sample(t: OnShelf, face: Typeface, source: ShelfFace, units: Units) -> FaceSample:
    notes = [f"{t.title} – {t.role}. {_format_scripts(t)}. Licence {t.licence}."]
    if source.is_own:
        notes = [f"A font of your own, {source.file}: {t.role}."]
    if t.single_line:
        notes.append("Letters of one line, for an engraving point.")
    if t.refused:
        notes.append(f"A run refuses them here: {t.refused}.")
    elif source.thinnest:
        places = [f"{SCRIPT_NAMES[script]} {width:.3f} in “{letter}”" for script, width, letter in source.thinnest]
        notes.append(f"Thinnest stroke as a part of the cap height: {', '.join(places)}.")
    if t.joins:
        notes.append("Its letters join: it is never letterspaced.")
    if t.smallest is not None:
        notes.append(f"Smallest cap height for this order's cutter: {units.show(t.smallest)}.")
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZ abcdefghijklmnopqrstuvwxyz 0123456789"
    wanted = [SAMPLES[script] for script in t.scripts] + [alphabet]
    rows = tuple(shape_row([face], line) for line in wanted if face.covers(line))
    return FaceSample(name=t.name, notes=tuple(notes), rows=rows)


# --- likeness -------------------------------------------------------------------------------------------------------


def _rank(
    like: Path,
    text: str,
    opened: dict[str, Typeface],
    asked: _LetteringNeeds | None,
    *,
    target: Path,
    say: Say,
    left_out: Sequence[str],
    as_json: bool,
) -> None:
    if not like.is_file():
        raise CannotRun(Fault(where=f"--like {like}", found="there is no such file", expected="a font or a picture"))
    if like.suffix.lower() in PICTURES:
        ranked, wanted, sure, line, known = _rank_like_picture(like, text, opened)
    else:
        ranked, wanted, sure, line, known = _rank_like_font(like, text, opened, asked)
    likely = [r for r in ranked if r.likeness > 0]
    shown, counted = likely[:RANKED], place_with_ties(likely)
    places = [f"{i}{'=' if counted.count(i) > 1 else '.'}" for i in counted]
    samples = [
        FaceSample(
            name=f"{place} {r.name}",
            notes=(_format_likeness(r), f"{describe_likeness(r).capitalize()}."),
            rows=(shape_row([opened[r.name]], line),),
        )
        for place, r in zip(places, shown, strict=False)
    ]
    write_whole(target, write_alike_sheet(wanted, samples, f"Typefaces like {like.name}"))
    if as_json:
        ranking = [asdict(r) | {"why": describe_likeness(r) if r.likeness else ""} for r in ranked]
        plain = {"like": like.name, "sure": sure, "known": known, "ranking": ranking, "left_out": list(left_out)}
        say(write_json_text(plain, indent=1))
        return
    say(f"{like.name}: {known}")
    say(f"{'':3} {'typeface':22} {'likeness':>8} {'overlap':>8} {'width':>6} {'stroke':>7} {'contrast':>9}")
    for place, r in zip(places, shown, strict=False):
        lacks = f"  lacks {' '.join(r.lacking[:6])}" if r.lacking else ""
        numbers = f"{r.likeness:8.3f} {r.overlap:8.3f} {r.width:6.2f} {r.stroke:7.2f} {r.contrast:9.2f}"
        say(f"{place:>3} {r.name:22} {numbers}  {describe_likeness(r)}{lacks}")
    say("(width, stroke and contrast relative to the wanted typeface: 1 is equal; ranks marked = can't be told apart)")
    if len(likely) > len(shown):
        say(f"({len(likely) - len(shown)} more are less like it; --json has them all)")
    say("\n".join([f"{sure[0].upper()}{sure[1:]}. Side by side in {target}.", *left_out]))


Ranking = tuple[list[Likeness], WantedFace, str, str, str]
"""The ranking, what it is compared with, how sure it is, the sample line, and what is known of the wanted typeface."""


def _rank_like_font(like: Path, text: str, opened: dict[str, Typeface], asked: _LetteringNeeds | None) -> Ranking:
    face = open_face(like.name, like.parent, where=f"--like {like}")
    letters = choose_letters_to_compare(face, text or (asked.letters if asked else ""))
    if not letters:
        found = "it has none of the letters that are wanted"
        raise CannotRun(Fault(where=f"--like {like}", found=found, remedy="name others with --text"))
    wanted = measure_letters(face, letters)
    compared = (compare_faces(name, wanted, measure_letters(other, letters)) for name, other in opened.items())
    ranked = sort_ranking(compared, opened, letters)
    line = "".join(letters)
    row: ShapedRow = shape_row([face], line)
    said, _ = describe_permission(face.fs_type)
    known = f"{face.title}, compared by {len(letters)} letters; the file {said}"
    if abs(wanted.slant) > 0.05:
        known += f"; it leans by {wanted.slant * 57.3:.0f}°, which is put upright for comparing"
    return ranked, WantedFace(name=face.title, row=row), judge_ranking(ranked), line, known


def _rank_like_picture(like: Path, text: str, opened: dict[str, Typeface]) -> Ranking:
    if not text.strip():
        raise CannotRun(
            Fault(
                where=f"--like {like}",
                found="a picture is given without the text it shows",
                remedy="add it, for instance --text 'Ida Vex'",
            )
        )
    picture: PictureLettering = read_picture(like, f"--like {like}")
    ranked = sort_ranking((compare_line(name, picture, face, text) for name, face in opened.items()), opened, text)
    known = f"a line {picture.pixels} pixels high"
    if picture.tilt:
        known += f", turned by {abs(picture.tilt) * 57.3:.1f}°, put level"
    return ranked, WantedFace(name=like.name, ink=picture.ink), judge_ranking(ranked, picture.pixels), text, known


def _format_likeness(r: Likeness) -> str:
    return (
        f"Likeness {r.likeness:.2f}: overlap {r.overlap:.2f}, width × {r.width:.2f}, stroke × {r.stroke:.2f}, "
        f"contrast × {r.contrast:.2f}" + (f"; lacks {' '.join(r.lacking[:8])}" if r.lacking else "")
    )
