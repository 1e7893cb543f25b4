"""Brings an SVG document into the form that picosvg reads: style sheets become attributes, lengths bare numbers,
symbols nested drawings, and what is hidden is taken out.

Published standard throughout: SVG 1.1 (second edition) and CSS 2.1 for lengths and the cascade.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from typing import Any

import cssselect2
import tinycss2
from lxml import etree

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
HREF = f"{{{XLINK}}}href"

MM_OF_UNIT = {"mm": 1.0, "cm": 10.0, "q": 0.25, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
"""Units of absolute length (CSS 2.1, 4.3.2). px is a unit of the screen: programs draw with 72, 90 or 96 to the
inch."""
_PX_OF_MM = 96 / 25.4
_NUMBER = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(%|[a-zA-Z]*)\s*")
_FONT_PX = 16.0  # px per em where no font size is given; ex is half of it

_ACROSS = {"x", "x1", "x2", "cx", "width", "rx", "dx"}
_UP = {"y", "y1", "y2", "cy", "height", "ry", "dy"}
_ROUND = {"r", "stroke-width", "stroke-dashoffset"}
_PRESENTATION = {
    *"clip-path clip-rule display fill fill-opacity fill-rule filter mask".split(),
    *"marker marker-start marker-mid marker-end".split(),
    *"opacity overflow stroke stroke-dasharray stroke-dashoffset stroke-linecap stroke-linejoin".split(),
    *"stroke-miterlimit stroke-opacity stroke-width transform vector-effect visibility color".split(),
}
"""Properties that decide what is painted (SVG 1.1, 6.1; `transform` since SVG 2)."""

Box = tuple[float, float, float, float]


def get_local_name(element: Any) -> str:
    """The element's name without its namespace; "" for comments and instructions."""
    return etree.QName(element).localname if isinstance(element.tag, str) else ""


def parse_svg(data: bytes) -> Any:
    """The root of a document that has been found harmless. ValueError when it is no SVG."""
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, remove_comments=True, remove_pis=True
    )
    root = etree.fromstring(data, parser)
    name = etree.QName(root)
    if name.localname != "svg" or name.namespace not in (None, "", SVG):
        raise ValueError("the first element is no <svg>")
    if not name.namespace:  # written without a namespace, which viewers accept
        for element in root.iter():
            if isinstance(element.tag, str) and "}" not in element.tag:
                element.tag = f"{{{SVG}}}{element.tag}"
    for element in list(root.iter()):
        if isinstance(element.tag, str) and etree.QName(element).namespace != SVG and element.getparent() is not None:
            element.getparent().remove(element)  # drawing programs' own metadata
    etree.cleanup_namespaces(root, top_nsmap={None: SVG, "xlink": XLINK})
    return root


# --- lengths ----------------------------------------------------------------------------------------------------------


def read_length(text: str, of: float = 0.0) -> float | None:
    """A length in user units, a px each; `of` is what a percentage is of. None for what is no length."""
    found = _NUMBER.fullmatch(text or "")
    if found is None:
        return None
    value, unit = float(found[1]), found[2].lower()
    if unit in ("", "px"):
        return value
    if unit == "%":
        return value * of / 100
    if unit in ("em", "rem", "ex"):
        return value * _FONT_PX / (2 if unit == "ex" else 1)
    return value * MM_OF_UNIT[unit] * _PX_OF_MM if unit in MM_OF_UNIT else None


def read_millimetres(text: str) -> float | None:
    """Read a length with an absolute unit, mm; None for px, percentages and bare numbers."""
    found = _NUMBER.fullmatch(text or "")
    if found is None or found[2].lower() not in MM_OF_UNIT:
        return None
    return float(found[1]) * MM_OF_UNIT[found[2].lower()]


def read_view_box(root: Any) -> Box | None:
    """x, y, width and height of the part that is shown, in user units; None where nothing says."""
    numbers = [float(v) for v in re.split(r"[\s,]+", root.get("viewBox", "").strip()) if v]
    if len(numbers) == 4 and numbers[2] > 0 and numbers[3] > 0:
        return numbers[0], numbers[1], numbers[2], numbers[3]
    w, h = read_length(root.get("width", "")), read_length(root.get("height", ""))
    return (0.0, 0.0, w, h) if w and h else None


def number_lengths(root: Any, shown: Box) -> None:
    """Writes every length of the drawing as a bare number of user units."""
    _, _, w, h = shown
    diagonal = ((w * w + h * h) / 2) ** 0.5
    for element in root.iter():
        if element is root:
            continue
        for key, text in list(element.attrib.items()):
            of = w if key in _ACROSS else h if key in _UP else diagonal if key in _ROUND else None
            if of is not None:
                value = read_length(text, of)
                if value is None:
                    del element.attrib[key]  # "auto", or a value no program would understand
                else:
                    element.set(key, repr(value))
            elif key == "stroke-dasharray" and text != "none":
                parts = [read_length(part, diagonal) for part in re.split(r"[\s,]+", text.strip()) if part]
                good = parts and all(p is not None and p >= 0 for p in parts) and any(parts)
                element.set(key, " ".join(repr(p) for p in parts) if good else "none")
            elif key in ("opacity", "fill-opacity", "stroke-opacity", "stroke-miterlimit"):
                value = read_length(text, 1.0)
                if value is None:
                    del element.attrib[key]
                else:
                    element.set(key, repr(value))


# --- style sheets -----------------------------------------------------------------------------------------------------


def apply_styles(root: Any) -> None:
    """Puts what style sheets and style attributes say into attributes, by the cascade."""
    rules = cssselect2.Matcher()
    for sheet in list(root.iter(f"{{{SVG}}}style")):
        _add_rules(rules, sheet.text or "")
        sheet.getparent().remove(sheet)
    wrapped = cssselect2.ElementWrapper.from_xml_root(root)
    for node in wrapped.iter_subtree():
        own: dict[str, tuple[bool, str]] = {}
        for _, _, _, (declarations, _) in sorted(rules.match(node), key=lambda m: m[:2]):
            _take(declarations, own)
        _take(list(_list_declarations(node.etree_element.attrib.pop("style", ""))), own)
        for name, (_, value) in own.items():
            node.etree_element.set(name, value)


def _take(declarations: list[tuple[str, str, bool]], own: dict[str, tuple[bool, str]]) -> None:
    for name, value, important in declarations:
        if name in _PRESENTATION and (important or not own.get(name, (False, ""))[0]):
            own[name] = (important, value)


def _add_rules(rules: Any, sheet: str) -> None:
    for rule in tinycss2.parse_stylesheet(sheet, skip_comments=True, skip_whitespace=True):
        if rule.type != "qualified-rule":
            continue  # @media, @font-face: nothing that matters for cutting
        declarations = list(_list_declarations(tinycss2.serialize(rule.content)))
        try:
            selectors = cssselect2.compile_selector_list(rule.prelude)
        except cssselect2.SelectorError:
            continue
        for selector in selectors:
            if selector.pseudo_element is None:
                rules.add_selector(selector, (declarations, None))


def _list_declarations(text: str) -> Iterator[tuple[str, str, bool]]:
    for part in tinycss2.parse_declaration_list(text, skip_comments=True, skip_whitespace=True):
        if part.type == "declaration":
            value = tinycss2.serialize(part.value).strip()
            if part.lower_name == "transform":
                value = re.sub(r"(deg|px)\b", "", value)
            yield part.lower_name, value, part.important


# --- structure --------------------------------------------------------------------------------------------------------


def drop_hidden(root: Any) -> int:
    """Takes out what is not shown (`display`, `visibility`, no opacity at all); returns how many shapes. What is used
    elsewhere, or clips, stays for that: it inherits from there, not from the groups it stands in (SVG 1.1, 5.6,
    14.3.5). `inherit` is what leaving a property out says."""
    for element in root.iter():
        for key in [k for k, v in element.attrib.items() if v.strip() == "inherit" and k in _PRESENTATION]:
            del element.attrib[key]
    used = {e.get(key, "")[1:] for e in root.iter() for key in ("href", HREF)} - {""}
    gone = 0
    for element in list(root.iter()):
        clear = read_length(element.get("opacity", "1"), 1.0) == 0
        hidden = clear or element.get("display", "").strip() == "none"
        if not hidden or element is root or element.getparent() is None:
            continue
        if get_local_name(element) in NEVER_SHOWN:
            for key in ("display", "opacity"):  # these don't apply to elements that are only referenced
                element.attrib.pop(key, None)
            continue
        kept = [
            e for e in element.iter() if e is not element and (e.get("id") in used or get_local_name(e) in NEVER_SHOWN)
        ]
        for part in kept:
            _get_definitions(root).append(part)
        gone += sum(1 for e in element.iter() if get_local_name(e) in SHAPES)
        element.getparent().remove(element)
    for element in [e for e in root.iter() if e.get("id") in used and get_local_name(e) not in NEVER_SHOWN]:
        above = element.getparent()
        if element.get("visibility") is None and above is not None and _is_invisible(above):
            copied = copy.deepcopy(element)
            for part in element.iter():
                part.attrib.pop("id", None)
            _get_definitions(root).append(copied)
    for element in [e for e in root.iter() if get_local_name(e) in (*SHAPES, "use")]:
        if _is_invisible(element):
            gone += 1
            element.getparent().remove(element)
    return gone


def _is_invisible(element: Any) -> bool:
    chain = [element, *element.iterancestors()]
    return next((v.strip() for e in chain if (v := e.get("visibility"))), "visible") in ("hidden", "collapse")


def _get_definitions(root: Any) -> Any:
    """A place at the root for what is only referred to."""
    for child in root:
        if get_local_name(child) == "defs" and not child.attrib:
            return child
    return etree.SubElement(root, f"{{{SVG}}}defs")


NEVER_SHOWN = {"defs", "clipPath", "mask", "pattern", "marker", "symbol", "linearGradient", "radialGradient", "filter"}
"""Elements shown only where they are referenced, whatever their `display` (SVG 1.1, 11.5)."""
SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")


def simplify_structure(root: Any) -> None:
    """Links and choices become groups, symbols nested drawings, `href` the older form."""
    for element in list(root.iter()):
        if element.get("href") is not None and element.get(HREF) is None:
            element.set(HREF, element.get("href"))
        element.attrib.pop("href", None)
        if get_local_name(element) == "a":
            element.tag = f"{{{SVG}}}g"
        elif get_local_name(element) == "switch":
            _choose(element)
    named = {e.get("id"): e for e in root.iter() if e.get("id")}
    symbols = True
    while symbols:  # symbols may use symbols; cycles were ruled out before
        symbols = False
        for use in list(root.iter(f"{{{SVG}}}use")):
            target = named.get((use.get(HREF) or "")[1:])
            if target is None:
                if use.getparent() is not None:
                    use.getparent().remove(use)  # the target is missing: viewers show nothing
            elif get_local_name(target) == "symbol":
                _replace_by_nested(use, target)
                symbols = True
    for symbol in list(root.iter(f"{{{SVG}}}symbol")):
        symbol.tag = f"{{{SVG}}}defs"  # shown only where it is used


def count_with_uses(root: Any) -> int:
    """Count how many elements the drawing has once every use stands for what it refers to. ValueError for a use that
    leads back to itself."""
    named = {e.get("id"): e for e in root.iter() if e.get("id")}
    known: dict[Any, int] = {}
    open_now: set[Any] = set()

    def count(top: Any) -> int:
        if top in known:
            return known[top]
        if top in open_now:
            raise ValueError(f"a use that leads back to itself (“{str(top.get('id'))[:40]}”)")
        open_now.add(top)
        total = 0
        for element in top.iter():
            total += 1
            if get_local_name(element) == "use":
                target = named.get((element.get(HREF) or element.get("href") or "")[1:])
                if target is not None:
                    total += count(target)
        open_now.discard(top)
        known[top] = total
        return total

    return count(root)


def _choose(element: Any) -> None:
    """Return the first alternative of a `switch` that has no conditions."""
    element.tag = f"{{{SVG}}}g"
    asks = ("requiredFeatures", "requiredExtensions", "systemLanguage")
    plain = [child for child in element if not any(child.get(a) for a in asks)]
    for child in list(element):
        if child not in plain[:1]:
            element.remove(child)


def _replace_by_nested(use: Any, symbol: Any) -> None:
    """A use of a symbol as the nested drawing it stands for (SVG 1.1, 5.6)."""
    drawing = etree.Element(f"{{{SVG}}}svg")
    for key in ("viewBox", "preserveAspectRatio", "overflow"):
        if symbol.get(key):
            drawing.set(key, symbol.get(key))
    for key in ("x", "y", "width", "height"):
        if use.get(key):
            drawing.set(key, use.get(key))
    drawing.extend(copy.deepcopy(child) for child in symbol)
    for part in drawing.iter():
        part.attrib.pop("id", None)  # the symbol itself keeps its ids, a copy drops them
    inner = etree.Element(f"{{{SVG}}}g")
    inner.extend([drawing])
    taken = {*("viewBox preserveAspectRatio overflow x y width height id display".split()), HREF}
    for key, value in [*symbol.attrib.items(), *use.attrib.items()]:
        if key not in taken:
            inner.set(key, value)
    if not drawing.get("viewBox") and not (use.get("width") or use.get("height")):
        shift = f"translate({use.get('x', '0')},{use.get('y', '0')})"
        plain = etree.SubElement(inner, f"{{{SVG}}}g", transform=shift)
        plain.extend(list(drawing))
        inner.remove(drawing)
    use.getparent().replace(use, inner)
