"""Forms of plain values: what is read back from a file is looked over before it is believed.

A form is `float` (whole numbers too), `int`, `str`, `bool` or `SCALAR`; a list of one form: a list of any length; a
tuple of forms: a list of exactly these; a dict of forms: exactly these keys; a `Maybe`: this form, or nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

SCALAR = str | int | float


@dataclass(frozen=True, slots=True)
class Maybe:
    """The form, or None."""

    form: Any


_TYPES: dict[Any, set[type]] = {
    float: {float, int},
    int: {int},  # and not bool, which JSON tells apart
    str: {str},
    bool: {bool},
    SCALAR: {str, int, float},
}


def of_form(plain: Any, form: Any) -> Any:
    """The value, when it is of this form. ValueError otherwise."""
    if not _has(plain, form):
        raise ValueError(f"not of the form {form}: {plain!r:.80}")
    return plain


def _has(plain: Any, form: Any) -> bool:
    match form:
        case list():
            (each,) = form
            if type(plain) is not list:
                return False
            if isinstance(each, type):  # long lists of numbers are looked over at once
                return set(map(type, plain)) <= _TYPES[each]
            return all(_has(one, each) for one in plain)
        case tuple():
            return type(plain) is list and len(plain) == len(form) and all(map(_has, plain, form))
        case dict():
            return (
                type(plain) is dict
                and plain.keys() == form.keys()
                and all(_has(plain[name], each) for name, each in form.items())
            )
        case Maybe():
            return plain is None or _has(plain, form.form)
        case _:
            return type(plain) in _TYPES[form]
