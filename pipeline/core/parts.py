"""What every table of the order file is made of. `Length` fields are converted to mm while the file is read."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo


def _to_mm(value: float, info: ValidationInfo) -> float:
    """The reader passes {'mm': millimetres in one unit} as validation context."""
    return value * float(info.context["mm"]) if info.context else value


Length = Annotated[float, Field(allow_inf_nan=False), AfterValidator(_to_mm)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False), AfterValidator(_to_mm)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False), AfterValidator(_to_mm)]


def _frozen_list(value: Any) -> Any:
    """TOML's lists arrive as Python lists; here they are kept as tuples."""
    return tuple(value) if isinstance(value, list) else value


AsTuple = BeforeValidator(_frozen_list)


class Part(BaseModel):
    """A table of the order file: frozen, and unknown keys are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)
