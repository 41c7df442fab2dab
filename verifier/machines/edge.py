"""The strict types of the two-way door between a file and the engine: exact numbers, closed tables, nothing coerced."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

MM_PER_INCH = Fraction(254, 10)
UNIT_LENGTH = {"mm": Fraction(1), "inch": MM_PER_INCH}

_MOST_DIGITS = 30


class Table(BaseModel):
    """A table of a file: unknown keys are mistakes, types are taken as written, values cannot change."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, arbitrary_types_allowed=True)


def expected(what: str) -> PydanticCustomError:
    """The mistake of a value that is not `what`."""
    return PydanticCustomError("expected", "{what}", {"what": what})


def exact(value: Any) -> Fraction:
    """An int or Decimal as an exact Fraction; anything else, infinities and absurd magnitudes are mistakes."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise expected("a number")
    if isinstance(value, int):
        value = Decimal(value) if abs(value) < 10**_MOST_DIGITS else Decimal("inf")
    if not value.is_finite() or abs(value.adjusted()) > _MOST_DIGITS or len(value.as_tuple().digits) > _MOST_DIGITS:
        raise expected(f"a number of at most {_MOST_DIGITS} digits")
    return Fraction(value)


def _bound(test: Callable[[Fraction], bool], what: str) -> AfterValidator:
    def check(value: Fraction) -> Fraction:
        if not test(value):
            raise expected(what)
        return value

    return AfterValidator(check)


_NUMBER = (PlainValidator(exact), WithJsonSchema({"type": "number"}))
Quantity = Annotated[Fraction, *_NUMBER]
Positive = Annotated[
    Fraction,
    PlainValidator(exact),
    _bound(lambda v: v > 0, "a number above 0"),
    WithJsonSchema({"type": "number", "exclusiveMinimum": 0}),
]
NotNegative = Annotated[
    Fraction,
    PlainValidator(exact),
    _bound(lambda v: v >= 0, "a number of 0 or more"),
    WithJsonSchema({"type": "number", "minimum": 0}),
]
Name = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=80)]
"""A name in lower case words joined by hyphens."""

Text = Annotated[str, Field(min_length=1, max_length=400)]
