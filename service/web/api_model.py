"""Base of every JSON body under /api: nothing unknown, nothing unbounded, nothing that means two things.

JSON has no dates and one kind of number, so lax reading would take `0` for 1 January 1970 and `true` for 1.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any, ClassVar, Final, get_args

from pydantic import BaseModel, ConfigDict, ValidationInfo, field_validator

from service.core.findings import Invalid
from service.core.materials import SelfHeating, Unknown
from service.core.written_days import YEARS
from service.core.written_signs import composed
from service.web.fields import read_instant
from service.web.text_guard import check_text, sentence

MAX_TEXT: Final = 4000
MAX_NUMBER: Final = Decimal(10) ** 15
MAX_DIGITS: Final = 40
MAX_LIST: Final = 1000
_THREE: Final = frozenset({Unknown, SelfHeating})


class ApiModel(BaseModel):
    """``class Draw(ApiModel): amount: str; once: Once``.

    Plain annotations are guarded: ``str`` to 4000 signs without NUL, surrogates or control signs; ``int``
    only from a JSON integer; ``Decimal`` from a number or a string, finite, to 10^15; ``date`` only from
    "YYYY-MM-DD"; ``datetime`` only from ISO 8601 with an offset; lists to 1000 items. A word of a list may be
    written with spaces or underscores for its hyphens ("rag can"); where yes, no and not known are the words,
    true, false and null are read as them.
    """

    model_config = ConfigDict(
        extra="forbid", str_max_length=MAX_TEXT, allow_inf_nan=False, hide_input_in_errors=True
    )

    whole_files: ClassVar[frozenset[str]] = frozenset()
    """Fields that hold a whole file, whose signs are judged line by line by whoever reads it."""

    @field_validator("*", mode="before")
    @classmethod
    def _guarded(cls, value: Any, info: ValidationInfo) -> Any:
        return _judge(value, _scalars(cls, info.field_name or ""))

    @field_validator("*", mode="after")
    @classmethod
    def _clean(cls, value: Any, info: ValidationInfo) -> Any:
        return value if info.field_name in cls.whole_files else _settle(value)


@cache
def _scalars(model: type[BaseModel], name: str) -> frozenset[type]:
    return frozenset(_leaves(model.model_fields[name].annotation))


def _leaves(annotation: Any) -> list[type]:
    parts = get_args(annotation)
    if not parts:
        return [annotation] if isinstance(annotation, type) else []
    return [leaf for part in parts for leaf in _leaves(part)]


def _judge(value: Any, kinds: frozenset[type]) -> Any:
    """Refuse what lax reading would bend into another meaning; turn day and instant texts into values."""
    if isinstance(value, list):
        if len(value) > MAX_LIST:
            raise sentence(f"Send at most {MAX_LIST} at a time.")
        return [_judge(item, kinds) for item in value]
    numbers = kinds & {int, float, Decimal}
    if value is None or isinstance(value, bool | str):
        value = _word(value, kinds)
    if kinds == {bool, type(None)} or kinds == {bool}:
        if value is not None and not isinstance(value, bool):
            raise sentence("Send true or false here.")
        return value
    if isinstance(value, bool):
        if numbers and bool not in kinds:
            raise sentence("Send a number here, not true or false.")
    elif isinstance(value, int | float):
        _judge_number(value, kinds, numbers)
    elif isinstance(value, str):
        return _judge_text(value, kinds, numbers)
    return value


def _word(value: Any, kinds: frozenset[type]) -> Any:
    """A word of a list as its list spells it; what is on no list is left for the validator to refuse."""
    if value is None:
        return "not-known" if kinds and kinds <= _THREE else None
    if isinstance(value, bool):
        return ("yes" if value else "no") if kinds & _THREE and bool not in kinds else value
    for kind in kinds:
        if issubclass(kind, Enum) and str not in kinds:
            spelt = {_loose(str(one.value)): one.value for one in kind}
            return spelt.get(_loose(str(value)), value)
    return value


def _loose(word: str) -> str:
    return re.sub(r"[ _-]+", "-", word[:100].strip().lower())


def _judge_number(value: int | float, kinds: frozenset[type], numbers: frozenset[type]) -> None:
    if not numbers and kinds & {date, datetime}:
        raise sentence("Send a day as text, like 2026-11-25, a time with its zone.")
    if isinstance(value, float) and numbers == {int}:
        raise sentence("Send a whole number here.")
    if isinstance(value, int) and abs(value) > MAX_NUMBER:
        raise sentence("Send a smaller number here.")


def _judge_text(value: str, kinds: frozenset[type], numbers: frozenset[type]) -> Any:
    if str in kinds:
        # What is over the length stays as it is, to be refused for it.
        return composed(value) if len(value) <= MAX_TEXT else value
    if numbers == {int}:
        raise sentence("Send a whole number here, without quotation marks.")
    if numbers and not re.fullmatch(r"-?\d{1,16}(\.\d{1,18})?([eE][+-]?\d{1,2})?", value, re.ASCII):
        raise sentence("Send a number here, like 12 or 0.5.")
    try:
        if datetime in kinds:
            return read_instant(value)
        if date in kinds:
            if not re.fullmatch(r"\d{4}-\d\d-\d\d", value, re.ASCII):
                raise ValueError
            return _day(value)
    except Invalid as error:
        raise sentence(error.sentence) from None
    except ValueError:
        raise sentence("Send the day as text, like 2026-11-25.") from None
    return value


def _day(value: str) -> date:
    try:
        found = date.fromisoformat(value)
    except ValueError:
        raise Invalid("There is no such day in the calendar. Check the day and the month.") from None
    if not YEARS[0] <= found.year <= YEARS[1]:
        raise Invalid(f"Send a day of the years {YEARS[0]} to {YEARS[1]}.")
    return found


def _settle(value: Any) -> Any:
    """After validation: texts without hidden signs, numbers finite and bounded, no minus before a zero."""
    if isinstance(value, str):
        return check_text(value, lines=True)
    if isinstance(value, list):
        return [_settle(item) for item in value]
    if isinstance(value, dict):
        return {_settle(key): _settle(item) for key, item in value.items()}
    if isinstance(value, Decimal):
        return _settle_decimal(value)
    if isinstance(value, float) and not abs(value) <= float(MAX_NUMBER):
        raise sentence("Send a smaller number here.")
    return value


def _settle_decimal(value: Decimal) -> Decimal:
    if not value.is_finite() or abs(value) > MAX_NUMBER:
        raise sentence("Send a smaller number here.")
    digits, exponent = value.as_tuple().digits, value.as_tuple().exponent
    if len(digits) > MAX_DIGITS or not isinstance(exponent, int) or exponent < -MAX_DIGITS:
        raise sentence("Send a number with fewer digits here.")
    return value if value else Decimal(0)
