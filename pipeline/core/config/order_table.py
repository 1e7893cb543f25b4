"""The base of every table of the order file. `Length` fields are converted to mm while the file is read.

Every number has a least and a greatest value, far outside what any job needs: a value beyond is a typing error, and
arithmetic with it overflows or never ends. `tests/core/test_bad_numbers.py` tests every key.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, Literal, Self, get_args

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    PrivateAttr,
    ValidationInfo,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

LONGEST = 10_000.0
"""mm. Of any length of a piece, a board or a cutter: boards are sold up to about 6 m; common practice, no source."""
SHORTEST = 0.0001
"""mm. A tenth of a micrometre: less is no length that any machine keeps."""
LONGEST_TEXT = 2_000
"""Characters of any text of the order file; a title has a limit of its own."""


@dataclass(frozen=True, slots=True)
class LengthRange:
    """An annotation: converts a length to mm and checks it against its least and greatest value, both in mm.

    Messages state the limits in the order's unit. The reader of the order file passes {'mm': millimetres in one unit}
    as validation context.
    """

    least: float
    most: float
    what: str = "length"

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_after_validator_function(self._convert_to_mm, handler(source))

    def _convert_to_mm(self, value: float, info: ValidationInfo) -> float:
        unit = float(info.context["mm"]) if info.context else 1.0
        if value * unit > self.most:
            raise PydanticCustomError("less_than_equal", "too large", {"le": self.most / unit})
        if 0 < abs(value) * unit < SHORTEST:
            raise PydanticCustomError("greater_than_equal", "too small", {"ge": SHORTEST / unit})
        if value * unit < self.least:
            raise PydanticCustomError("greater_than_equal", "too small", {"ge": self.least / unit})
        return value * unit


_finite = Field(allow_inf_nan=False)
Length = Annotated[float, _finite, LengthRange(-LONGEST, LONGEST)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False), LengthRange(0.0, LONGEST)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False), LengthRange(0.0, LONGEST)]
Far = Annotated[float, Field(gt=0, allow_inf_nan=False), LengthRange(1.0, 1_000_000.0)]
"""From a reader to the piece: 1 mm to 1 km."""
Feed = Annotated[float, Field(gt=0, allow_inf_nan=False), LengthRange(0.1, 1_000_000.0, "length per minute")]
"""Lengths in a minute: 0.1 mm/min to 1 km/min."""
PerPass = Annotated[float, Field(gt=0, allow_inf_nan=False), LengthRange(0.01, LONGEST)]
"""Depth of one pass: 0.01 mm or more, or there would be endless passes."""
LetterHeight = Annotated[float, Field(gt=0, allow_inf_nan=False), LengthRange(0.1, LONGEST)]
"""Size of lettering: 0.1 mm or more; anything smaller isn't lettering."""
Deviation = Annotated[float, Field(gt=0, allow_inf_nan=False), LengthRange(0.0005, 1.0)]
"""Tolerance of a written curve: half a micrometre is finer than any cutter, and at a millimetre the letter is lost."""


def _freeze_list(value: Any) -> Any:
    """Freeze a list of TOML into a tuple."""
    return tuple(value) if isinstance(value, list) else value


AsTuple = BeforeValidator(_freeze_list)

CutterKind = Literal["v-bit", "end-mill", "point", "laser"]
"""Kinds of cutters that can be written out; what each can do is said by its class."""
NEEDED_SIZE: Mapping[str, str] = {"v-bit": "angle", "end-mill": "diameter", "point": "tip", "laser": "kerf"}
"""The size a kind requires, for files that are read before a cutter is built; its class states the same."""


PURPOSES = ("piece", "drawn", "resolved", "making", "shop", "check", "paper")
"""What a key of the order decides, for the fingerprint and the release:
piece: a property of the finished piece, in the fingerprint as it stands · drawn: what the letters and outlines become,
in the fingerprint as texts and curves · resolved: in the fingerprint as what it comes to together with other keys
(the resolved cutter, the back taken off) · making: only how the piece is made, shows in the cut file · shop: only the
papers of the workshop · check: only what is asked or stopped · paper: only papers for client and maker."""


class OrderTable(BaseModel):
    """A table of the order file: frozen, and unknown keys are refused.

    Every table says of each of its keys what it decides, by naming it under one of the `PURPOSES` as a class keyword:
    `class Finish(Part, resolved="sanded_off compensate")`. A key without a purpose, or with two, is a TypeError when
    the module is imported. Keys that are tables themselves say it of their own keys.

    The docstring below a key is its line in `pipeline/reference/order-keys.md`.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, str_max_length=LONGEST_TEXT)
    purposes: ClassVar[Mapping[str, str]] = {}
    """Key -> what it decides."""
    _taken: dict[str, str] = PrivateAttr(default_factory=dict)

    @property
    def taken(self) -> Mapping[str, str]:
        """Keys whose values come from another file than the order, with that file in words: `shop.toml`."""
        return MappingProxyType(self._taken)

    def take_values(self, values: Mapping[str, Any], origin: str) -> Self:
        """Return the table with these values, taken from `origin`."""
        made = self.model_copy(update=dict(values))
        made._taken = self._taken | dict.fromkeys(values, origin)
        return made

    def __init_subclass__(cls, **kwargs: Any) -> None:
        """Pass the purposes on until the keys are known."""
        super().__init_subclass__()

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        said = [(key, purpose) for purpose in PURPOSES for key in str(kwargs.pop(purpose, "")).split()]
        super().__pydantic_init_subclass__(**kwargs)
        named = Counter(key for key, _ in said)
        own = {key for key, field in cls.model_fields.items() if find_table_in(field.annotation) is None}
        wrong = [f"{key} has no purpose" for key in sorted(own - named.keys())]
        wrong += [f"{key} is none of its plain keys" for key in sorted(named.keys() - own)]
        wrong += [f"{key} has {count} purposes" for key, count in named.items() if count > 1]
        if wrong:
            raise TypeError(f"{cls.__name__}: {', '.join(wrong)}; purposes are {', '.join(PURPOSES)}, see Part")
        cls.purposes = MappingProxyType(dict(said))


def find_table_in(annotation: Any) -> type[OrderTable] | None:
    """The table inside an annotation (`X`, `X | None`, `tuple[X, ...]`, `Annotated[...]`); None for a plain value."""
    if isinstance(annotation, type) and issubclass(annotation, OrderTable):
        return annotation
    return next((found for inner in get_args(annotation) if (found := find_table_in(inner))), None)


def list_values(part: OrderTable, *purposes: str, above: str = "") -> Iterator[tuple[str, Any]]:
    """Keys with these purposes (`pocket.depth`, `board.size.0.length`) and their values, in the models' order, of all
    tables the part holds."""
    for key in type(part).model_fields:
        value = getattr(part, key)
        if type(part).purposes.get(key) in purposes:
            yield above + key, value
        elif isinstance(value, OrderTable):
            yield from list_values(value, *purposes, above=f"{above}{key}.")
        elif isinstance(value, tuple | list):
            for number, item in enumerate(value):
                if isinstance(item, OrderTable):
                    yield from list_values(item, *purposes, above=f"{above}{key}.{number}.")
