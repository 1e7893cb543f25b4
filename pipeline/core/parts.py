"""What every table of the order file is made of. `Length` fields are converted to mm while the file is read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, get_args

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


PURPOSES = ("piece", "drawn", "resolved", "making", "shop", "check", "paper")
"""What a key of the order decides, for the fingerprint and the release:
piece: a property of the finished piece, in the fingerprint as it stands · drawn: what the letters and outlines become,
in the fingerprint as texts and curves · resolved: in the fingerprint as what it comes to together with other keys
(the resolved cutter, the back taken off) · making: only how the piece is made, shows in the cut file · shop: only the
papers of the workshop · check: only what is asked or stopped · paper: only papers for client and maker."""


class Part(BaseModel):
    """A table of the order file: frozen, and unknown keys are refused.

    Every table says of each of its keys what it decides, by naming it under one of the `PURPOSES` as a class keyword:
    `class Finish(Part, resolved="sanded_off compensate")`. A key without a purpose, or with two, is a TypeError when
    the module is imported. Keys that are tables themselves say it of their own keys.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)
    purposes: ClassVar[Mapping[str, str]] = {}
    """Key -> what it decides."""

    def __init_subclass__(cls, **kwargs: Any) -> None:
        """Lets the purposes through to where the keys are known."""
        super().__init_subclass__()

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        said = [(key, purpose) for purpose in PURPOSES for key in str(kwargs.pop(purpose, "")).split()]
        super().__pydantic_init_subclass__(**kwargs)
        named = Counter(key for key, _ in said)
        own = {key for key, field in cls.model_fields.items() if part_in(field.annotation) is None}
        wrong = [f"{key} has no purpose" for key in sorted(own - named.keys())]
        wrong += [f"{key} is none of its plain keys" for key in sorted(named.keys() - own)]
        wrong += [f"{key} has {count} purposes" for key, count in named.items() if count > 1]
        if wrong:
            raise TypeError(f"{cls.__name__}: {', '.join(wrong)}; purposes are {', '.join(PURPOSES)}, see Part")
        cls.purposes = MappingProxyType(dict(said))


def part_in(annotation: Any) -> type[Part] | None:
    """The table inside an annotation (`X`, `X | None`, `tuple[X, ...]`, `Annotated[...]`); None for a plain value."""
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return annotation
    return next((found for inner in get_args(annotation) if (found := part_in(inner))), None)


def values_of(part: Part, *purposes: str, above: str = "") -> Iterator[tuple[str, Any]]:
    """Keys with these purposes (`pocket.depth`, `board.size.0.length`) and their values, in the models' order, of all
    tables the part holds."""
    for key in type(part).model_fields:
        value = getattr(part, key)
        if type(part).purposes.get(key) in purposes:
            yield above + key, value
        elif isinstance(value, Part):
            yield from values_of(value, *purposes, above=f"{above}{key}.")
        elif isinstance(value, tuple | list):
            for number, item in enumerate(value):
                if isinstance(item, Part):
                    yield from values_of(item, *purposes, above=f"{above}{key}.{number}.")
