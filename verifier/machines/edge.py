"""The strict types of the two-way door between a file and the engine: exact numbers, closed tables, nothing coerced."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from verifier.machines.inserts import INSERT_FORM
from verifier.machines.mistakes import Mistake

MM_PER_INCH = Fraction(254, 10)
UNIT_LENGTH = {"mm": Fraction(1), "inch": MM_PER_INCH}

_MOST_DIGITS = 30


class Table(BaseModel):
    """A table of a file: unknown keys are mistakes, types are taken as written, values cannot change."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, arbitrary_types_allowed=True)

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """What the keys of one table say against each other, with paths inside it.

        `raw` is the table as written: any key may be missing or of a wrong type, and is then left to the check of its
        own.
        """
        yield from ()


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


def number(raw: dict[str, Any], key: str) -> Fraction | None:
    """The number at a key of a table as written, or None where there is none."""
    try:
        return exact(raw[key])
    except (KeyError, PydanticCustomError):
        return None


def _bound(test: Callable[[Fraction], bool], what: str) -> AfterValidator:
    def check(value: Fraction) -> Fraction:
        if not test(value):
            raise expected(what)
        return value

    return AfterValidator(check)


def _as_list(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


def _none_or_two(value: list[int]) -> list[int]:
    if len(value) not in (0, 2):
        raise expected("a list of two numbers, or an empty one")
    return value


Quantity = Annotated[Fraction, PlainValidator(exact), WithJsonSchema({"type": "number"})]
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
Share = Annotated[
    Fraction,
    PlainValidator(exact),
    _bound(lambda v: 0 < v <= 1, "a number above 0, 1 at most"),
    WithJsonSchema({"type": "number", "exclusiveMinimum": 0, "maximum": 1}),
]
NAME_FORM = r"^[a-z0-9]+(-[a-z0-9]+)*$"
CODE_FORM = r"^G[0-9]{1,3}(\.[0-9])?$"
M_CODE_FORM = r"^[0-9]{1,5}$"
CALL_FORM = r"^(G[0-9]{1,4}|M[0-9]{1,5})$"
STATION_FORM = r"^[0-9]{1,4}$"
VARIABLE_FORM = r"^[0-9]{1,6}$"
WORK_OFFSET_FORM = r"^G5[4-9](\.1P[0-9]{1,3})?$"
FORMS = {
    NAME_FORM: "lower case words joined by hyphens",
    INSERT_FORM: "an insert as ISO 1832 designates it, such as CNMG 12 04 08 or CNMG 432",
    CODE_FORM: "a G code such as G01",
    M_CODE_FORM: "the number of an M code",
    CALL_FORM: "a G or M code such as G101 or M96",
    STATION_FORM: "the number of a station",
    VARIABLE_FORM: "the number of a variable",
    WORK_OFFSET_FORM: "a work offset such as G54",
}
"""What a text of each form is called in a mistake."""

Name = Annotated[str, Field(pattern=NAME_FORM, max_length=80)]
"""A name in lower case words joined by hyphens."""

Text = Annotated[str, Field(min_length=1, max_length=400)]

_NAME_SCHEMA = {"type": "string", "pattern": NAME_FORM, "maxLength": 80}
Names = Annotated[
    list[Name],
    BeforeValidator(_as_list),
    Field(min_length=1),
    WithJsonSchema({"anyOf": [_NAME_SCHEMA, {"type": "array", "items": _NAME_SCHEMA, "minItems": 1}]}),
]
"""One name, or a list of names."""

_END = Annotated[int, Field(ge=0, le=999_999)]
Ends = Annotated[list[_END], AfterValidator(_none_or_two), Field(max_length=2)]
"""The first and last number of a range, or nothing."""
