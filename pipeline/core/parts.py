"""What every table of the order file is made of. `Length` fields are converted to mm while the file is read.

Every number has a least and a greatest value, far outside what any job needs: what lies beyond is a slip of the
finger, and arithmetic with it overflows or never ends. `tests/core/test_bad_numbers.py` holds every key to it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo
from pydantic_core import PydanticCustomError

LONGEST = 10_000.0
"""mm. Of any length of a piece, a board or a cutter: boards are sold up to about 6 m; common practice, no source."""
SHORTEST = 0.0001
"""mm. A tenth of a micrometre: less is no length that any machine keeps."""
LONGEST_TEXT = 2_000
"""Characters of any text of the order file; a title has a limit of its own."""


def _length(least: float, most: float) -> Callable[[float, ValidationInfo], float]:
    """Converts to mm and holds against limits in mm, which the message gives in the order's unit.

    The reader passes {'mm': millimetres in one unit} as validation context.
    """

    def to_mm(value: float, info: ValidationInfo) -> float:
        unit = float(info.context["mm"]) if info.context else 1.0
        if value * unit > most:
            raise PydanticCustomError("less_than_equal", "too large", {"le": most / unit})
        if 0 < abs(value) * unit < SHORTEST:
            raise PydanticCustomError("greater_than_equal", "too small", {"ge": SHORTEST / unit})
        if value * unit < least:
            raise PydanticCustomError("greater_than_equal", "too small", {"ge": least / unit})
        return value * unit

    return AfterValidator(to_mm)  # type: ignore[return-value]


_finite = Field(allow_inf_nan=False)
Length = Annotated[float, _finite, _length(-LONGEST, LONGEST)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False), _length(0.0, LONGEST)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False), _length(0.0, LONGEST)]
Far = Annotated[float, Field(gt=0, allow_inf_nan=False), _length(1.0, 1_000_000.0)]
"""From a reader to the piece: 1 mm to 1 km."""
Feed = Annotated[float, Field(gt=0, allow_inf_nan=False), _length(0.1, 1_000_000.0)]
"""Lengths in a minute: 0.1 mm/min to 1 km/min."""
PerPass = Annotated[float, Field(gt=0, allow_inf_nan=False), _length(0.01, LONGEST)]
"""A depth that is cut again and again: 0.01 mm or more, or the passes are without end."""
LetterHeight = Annotated[float, Field(gt=0, allow_inf_nan=False), _length(0.1, LONGEST)]
"""Of lettering: 0.1 mm or more, smaller is no lettering."""
Deviation = Annotated[float, Field(gt=0, allow_inf_nan=False), _length(0.0005, 1.0)]
"""How far a written curve may be off: half a micrometre is finer than any cutter, a millimetre is not the letter."""


def _frozen_list(value: Any) -> Any:
    """TOML's lists arrive as Python lists; here they are kept as tuples."""
    return tuple(value) if isinstance(value, list) else value


AsTuple = BeforeValidator(_frozen_list)


class Part(BaseModel):
    """A table of the order file: frozen, and unknown keys are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, str_max_length=LONGEST_TEXT)
