"""Heads and spare of a planned job in a call, with a sentence that says what may stand there."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from service.actions.plan_job import MOST_SPARE_PERCENT
from service.core.plan_needs import MOST_HEADS
from service.web.text_guard import sentence


def _between(low: int, high: int, words: str) -> Callable[[Any], Any]:
    def judge(value: Any) -> Any:
        if isinstance(value, int) and not isinstance(value, bool) and not low <= value <= high:
            raise sentence(words)
        return value

    return judge


Heads = Annotated[
    int, Field(ge=1, le=MOST_HEADS),
    BeforeValidator(_between(1, MOST_HEADS, f"Enter for how many people: from 1 to {MOST_HEADS}.")),
]  # fmt: skip
Spare = Annotated[
    int, Field(ge=0, le=MOST_SPARE_PERCENT),
    BeforeValidator(
        _between(0, MOST_SPARE_PERCENT, f"Enter a spare between 0 and {MOST_SPARE_PERCENT} per cent.")
    ),
]  # fmt: skip
