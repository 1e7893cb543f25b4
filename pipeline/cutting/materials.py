"""Materials: what they are bought as, what can be done to them, and how they look.

A material is one of the shelf (`materials.toml`), of the shop file ([[material]]), or unknown. Nothing is assumed about
an unknown one: it has no operations, no limits and no look, and the caller has to say so. Lengths are mm.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, get_args

from pipeline.core.config.order import Order
from pipeline.core.config.shop_config import NO_SHOP, Bought, MaterialStep, OwnMaterial, ShopConfig

STEPS: tuple[MaterialStep, ...] = get_args(MaterialStep)
WOODS = frozenset({"hardwood", "softwood", "plywood", "bamboo"})
"""Of the shelf."""
IMITATIONS = frozenset(
    "effect look looks looking style styled imitation faux fake mock pvc vinyl printed print coloured colored colour "
    "color tone toned foil film wrap veneered melamine".split()
)
"""Words that turn a material's name into an imitation: “oak-effect”, “walnut vinyl”."""
_NONE: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class SourcedValue:
    """A number and where it comes from."""

    value: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialLook:
    """Colours for papers, as #RRGGBB. grain: empty for a material that shows none."""

    face: str
    edge: str
    letters: str
    grain: str = ""

    @property
    def is_dark(self) -> bool:
        """Return whether its face is darker than its lettering (relative luminance of ITU-R BT.709, without gamma)."""
        return _compute_luminance(self.face) < _compute_luminance(self.letters)


def _compute_luminance(colour: str) -> float:
    red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One material. `sources` says of every field where it comes from."""

    name: str  # as the order calls it
    family: str = ""  # its family on the shelf; empty: unknown
    bought: Bought | None = None
    operations: frozenset[MaterialStep] = frozenset()
    grain: bool | None = None
    floor: float | None = None
    faced: float | None = None  # removed from the face of a sawn board
    passes: Mapping[str, float] = field(default_factory=lambda: _NONE)  # deepest pass by kind of cutter
    chip_load: tuple[float, float] | None = None  # least and greatest, as a share of an end mill's diameter
    finish: str = ""
    hazards: tuple[str, ...] = ()
    hazard: str = ""  # in the shop's own words
    look: MaterialLook | None = None
    movement: Mapping[str, tuple[float, float]] = field(default_factory=lambda: _NONE)  # movement by species
    sources: Mapping[str, str] = field(default_factory=lambda: _NONE)

    @property
    def is_wood(self) -> bool:
        """Return whether it is wood, or a board of it."""
        return self.family in WOODS

    @property
    def known(self) -> bool:
        """Return whether anything is known about it."""
        return bool(self.family) or bool(self.sources)

    def does(self, step: MaterialStep) -> bool:
        """Return whether this is done to the material at all."""
        return step in self.operations

    def describe_source(self, key: str) -> str:
        """Describe where a value comes from, in words for the papers."""
        return self.sources.get(key, "not known")

    def may_be_cut_by(self, kind: str) -> bool | None:
        """Return whether a kind of cutter (`v-bit`, `end-mill`, `point`, `laser`) cuts it; None where nothing is
        known."""
        return kind in self.passes if self.passes else None

    def find_pass_depth(self, kind: str, diameter: float | None = None) -> SourcedValue | None:
        """Depth of one pass of a kind of cutter, mm; None where nothing is known, or no depth can be set.

        diameter: of an end mill, whose passes are a share of it.
        """
        value = self.passes.get(kind)
        if not value or (kind == "end-mill" and diameter is None):
            return None
        return SourcedValue(
            value=value * (diameter or 1.0) if kind == "end-mill" else value, source=self.describe_source("passes")
        )

    @property
    def least_floor(self) -> SourcedValue | None:
        """Least thickness left under a cut, mm; None where nothing is known."""
        return None if self.floor is None else SourcedValue(value=self.floor, source=self.describe_source("floor"))

    def change_per_moisture(self, name: str) -> SourcedValue | None:
        """Change of width for each 1 % of moisture of flat-sawn wood, as a share of the width; None where the species
        is not in the table."""
        told = f" {fold_material(name)} "
        species = max((s for s in self.movement if f" {s} " in told), key=len, default=None)
        if species is None:
            return None
        return SourcedValue(value=self.movement[species][1], source=self.describe_source("movement"))


def fold_material(name: str) -> str:
    """Fold a material's name for comparison: lower case, without diacritics."""
    return " ".join(re.findall(r"[\w-]+", name.casefold()))


@lru_cache(maxsize=1)
def load_material_shelf() -> Mapping[str, Material]:
    """The materials that come with the project, by name, in the file's order."""
    text = files("pipeline.cutting").joinpath("materials.toml").read_text(encoding="utf-8")
    return MappingProxyType(
        {name: _build_from_shelf(name, dict(values)) for name, values in tomllib.loads(text).items()}
    )


@lru_cache(maxsize=1)
def list_other_names() -> Mapping[str, str]:
    """Map every name by which the shelf knows a material to the material's name."""
    text = files("pipeline.cutting").joinpath("materials.toml").read_text(encoding="utf-8")
    return {
        fold_material(word): name for name, values in tomllib.loads(text).items() for word in (name, *values["also"])
    }


def _build_from_shelf(name: str, values: dict[str, Any]) -> Material:
    return Material(
        name=name,
        family=name,
        bought=values["bought"],
        operations=frozenset(values["operations"]),
        grain=values["grain"],
        floor=values["floor"],
        faced=values.get("faced"),
        passes=MappingProxyType(values["passes"]),
        chip_load=tuple(values["chip_load"]) if "chip_load" in values else None,
        finish=values["finish"],
        hazards=tuple(values["hazards"]),
        look=MaterialLook(**values["look"]),
        movement=MappingProxyType({key: (r, t) for key, (r, t) in values.get("movement", {}).items()}),
        sources=MappingProxyType(values["sources"]),
    )


def find_material(name: str, shop: ShopConfig = NO_SHOP) -> Material:
    """The material that an order or a person calls `name`.

    The shop's own come first. On the shelf the whole name counts, then whole words of it, if they speak of one material
    only: “oiled walnut” is hardwood, “walnut-look acrylic” may be either and is unknown. With a word of an imitation
    among them it is unknown too: “oak-effect PVC” is no oak.
    """
    wanted = fold_material(name)
    own = next((part for part in shop.material if fold_material(part.name) == wanted), None)
    if own is not None:
        return build_own_material(own)
    names = list_other_names()
    family = names.get(wanted)
    if family is None and wanted:
        words = wanted.replace("-", " ").split()
        parts = {" ".join(words[a:b]) for a in range(len(words)) for b in range(a + 1, len(words) + 1)}
        found = {names[part] for part in parts if part in names}
        family = found.pop() if len(found) == 1 and not IMITATIONS.intersection(words) else None
    return Material(name=name) if family is None else replace(load_material_shelf()[family], name=name)


def build_own_material(part: OwnMaterial) -> Material:
    """A material of the shop file: one of the shelf (`like`) with changes, or one written out."""
    base = find_material(part.like) if part.like else Material(name=part.name)
    said: dict[str, Any] = {}
    if part.bought is not None:
        said["bought"] = part.bought
    if part.operations is not None:
        said["operations"] = frozenset(part.operations)
    if part.grain is not None:
        said["grain"] = part.grain
    if part.floor is not None:
        said["floor"] = part.floor
    if part.chip_load is not None:
        said["chip_load"] = part.chip_load
    passes = {"v-bit": part.pass_v_bit, "end-mill": part.pass_end_mill, "point": part.pass_point}
    if any(value is not None for value in passes.values()):
        own = {kind: value for kind, value in passes.items() if value is not None}
        said["passes"] = MappingProxyType({**base.passes, **own})
    if part.finish:
        said["finish"] = part.finish
    if part.hazard:
        said["hazard"] = part.hazard
    if part.face and part.letters:
        said["look"] = MaterialLook(face=part.face, edge=part.letters, letters=part.letters, grain="")
    where = f"[[material]] “{part.name}” in shop.toml"
    return replace(
        base, name=part.name, **said, sources={**base.sources, **dict.fromkeys(said, where)} or {"name": where}
    )


def get_material(order: Order) -> Material:
    """The order's material; unknown where [stock] names none, or one that neither shop file nor shelf has."""
    return find_material(order.stock.material if order.stock is not None else "", order.shop)
