"""Every reader that a person can reach, on long texts of the worst kinds: ten times the signs never take
much more than ten times the work. Told by the processor's time of this thread, as a ratio in one run.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Final

import pytest
from pydantic import ValidationError
from pydantic_core import PydanticCustomError
from starlette.datastructures import Headers

from service.core.bench_writing import read_figure, read_written
from service.core.fill_level import read_level
from service.core.findings import Invalid
from service.core.recipe_amounts import most_to_suit, read_how_much
from service.core.shelf_codes import is_code, near_codes, normalise, show_code
from service.core.sign_in_rules import address_key, as_typed, judge_password, judge_pin, sign_in_name
from service.core.spoon_weighing import read_weighing
from service.core.stock_list_file import read_rows
from service.core.written_classes import read_classes, read_metals
from service.core.written_days import read_day
from service.core.written_signs import compared, composed, ways_written, wrong_sign
from service.web import fields, guard
from service.web.api_model import ApiModel
from service.web.forms import FormModel, judge
from service.web.problems import wants_json
from service.web.sign_in_form import is_carried, local_path
from service.web.text_guard import check_text

SHORT: Final = 10_000
LONG: Final = 100_000
MOST: Final = 30.0
"""Ten would be exactly linear, a hundred quadratic; below half a millisecond nothing is compared."""
LEAST_S: Final = 0.0005

SHAPES: Final = (
    "1", "1 ", "1/", "1,", "1.", " ", "a", "a ", "(", "½", "-", "1 to ", "1 x ", "1-", "1 1/2 tsp + ", "g",
    "\t", "0", "25 Nov ", "25.", "5/", "T", ":", "@", "//", "%2f", "K7Q F2B ", "z", ",", ";", '"', "a=b;",
    "q=0.1,", "*/*,", "\u0301", "\ufb01", "İ", "ß", "\n", "a\n", "e1", "_", "H225 ", "100 % ", "heads x ",
)  # fmt: skip


class Form(FormModel):
    name: fields.Name
    note: fields.Note = ""
    amount: fields.WrittenAmount = "1"
    day: fields.DayText | None = None
    count: fields.NumberText | None = None
    once: fields.Once = "x"


class Call(ApiModel):
    name: str
    number: float = 0
    once: fields.Once = "x"


def origin_of(text: str) -> Headers:
    return Headers(raw=[(b"host", b"a"), (b"origin", b"http://" + text.encode("utf-8", "replace"))])


READERS: Final[dict[str, Callable[[str], Any]]] = {
    "amount": read_written,
    "figure": read_figure,
    "how much": read_how_much,
    "most": most_to_suit,
    "level": read_level,
    "weighing": read_weighing,
    "classes": read_classes,
    "metals": read_metals,
    "day": read_day,
    "clock": fields.read_clock,
    "instant": fields.read_instant,
    "number": fields.read_number,
    "code": normalise,
    "is code": is_code,
    "near codes": near_codes,
    "shown code": show_code,
    "sign-in name": sign_in_name,
    "password": judge_password,
    "pin": judge_pin,
    "typed": as_typed,
    "address": address_key,
    "signs": lambda text: wrong_sign(text + "\x07", lines=True),
    "check": lambda text: check_text(text, lines=True),
    "composed": composed,
    "compared": compared,
    "ways": ways_written,
    "where to go on": local_path,
    "carried": is_carried,
    "accept": lambda text: wants_json("/store", text),
    "host": guard.host_name,
    "origin": lambda text: guard.same_origin(origin_of(text)),
    "stock list": lambda text: read_rows(text.encode("utf-8", "replace")),
    "form": lambda text: judge(Form, dict.fromkeys(Form.model_fields, text)),
    "call": lambda text: Call.model_validate({"name": text, "number": text, "once": text}),
}


def taken_s(read: Callable[[str], Any], text: str) -> float:
    """The lesser processor time of two readings."""
    times = []
    for _ in range(2):
        started = time.thread_time()
        with suppress(Invalid, ValidationError, PydanticCustomError):
            read(text)
        times.append(time.thread_time() - started)
    return min(times)


@pytest.mark.parametrize("name", READERS)
def test_ten_times_the_text_is_about_ten_times_the_work(name: str) -> None:
    read = READERS[name]
    wrong = []
    for shape in SHAPES:
        for end in ("", "!"):
            short, long = (shape * (n // len(shape)) + end for n in (SHORT, LONG))
            ratio = taken_s(read, long) / max(taken_s(read, short), LEAST_S)
            for _ in range(12):  # again, for a processor that was elsewhere: too much work stays too much
                if ratio > MOST:
                    ratio = taken_s(read, long) / max(taken_s(read, short), LEAST_S)
            if ratio > MOST:
                wrong.append(f"{shape!r} {end!r}: {ratio:.0f} times")
    assert wrong == []
