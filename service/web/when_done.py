"""The question every act at the bench carries: about to do it, or already done, then when, and why late."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final, Literal
from zoneinfo import ZoneInfo

from pydantic import Field

from service.core.findings import Invalid
from service.web.fields import ClockText, Once, Sentence, to_instant
from service.web.forms import FormModel

_BOTH: Final = (
    "A time is typed here, and it is ticked that it is done now. Tick that it was done earlier, "
    "or empty this field."
)


def no_time_typed(happened: datetime | None) -> None:
    """A form that says "now" names no time: which of the two holds, only who typed it knows.

    Raises:
        Invalid: a time was typed; `errors` names ``happened``.

    >>> no_time_typed(None)
    """
    if happened is not None:
        raise Invalid(_BOTH, {"happened": _BOTH})


class WhenDone(FormModel):
    """Base of a form about an act."""

    when: Literal["about", "done"] = Field(default="about", title="About to do it, or already done?")
    happened: ClockText | None = Field(default=None, title="When it was done")
    reason: Sentence | None = Field(default=None, title="Why it is written only now")
    once: Once

    def times(self, zone: ZoneInfo) -> dict[str, Any]:
        """``happened_at``, ``already_done`` and ``late_reason`` of what is asked.

        Raises:
            Invalid: a wall-clock time that the change of the clocks skipped or repeats; one beside "now".
        """
        if self.when == "about":
            no_time_typed(self.happened)
            return {"late_reason": self.reason or ""}
        happened = None
        if self.happened is not None:
            try:
                happened = to_instant(self.happened, zone)
            except Invalid as error:
                raise Invalid(error.sentence, {"happened": error.sentence}, error.readings) from None
        return {"happened_at": happened, "already_done": True, "late_reason": self.reason or ""}


WHEN_CHOICES = [("about", "About to do it"), ("done", "Already done")]
