"""What somebody chooses about their own morning mail: wanted or not, quiet hours, kinds left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time

from sqlmodel import Session

from service.actions.note_change import note_change
from service.core.access import Actor
from service.core.digest import read_off, read_quiet
from service.core.findings import Stale
from service.records.notices import DigestChoice


@dataclass(frozen=True)
class ChoiceAsked:
    """The form as it was sent; ``version`` is the one its page showed, 0 when nothing was chosen yet."""

    wanted: bool
    quiet_from: time | None
    quiet_until: time | None
    kinds_off: Sequence[str]
    version: int


def choose_morning(session: Session, actor: Actor, now: datetime, asked: ChoiceAsked) -> DigestChoice:
    """Keep what somebody chose for themselves; nobody chooses for another.

    Raises:
        Invalid: quiet hours without an end, or a kind that cannot be left out; `errors` names the field.
        Stale: it was changed meanwhile.
    """
    quiet, off = read_quiet(asked.quiet_from, asked.quiet_until), read_off(asked.kinds_off)
    row = session.get(DigestChoice, actor.person_id, with_for_update=True, populate_existing=True)
    if (row.version if row is not None else 0) != asked.version:
        raise Stale("Your choices were changed meanwhile. Look at the page again.")
    before = in_words(row) if row is not None else "everything, no quiet hours"
    if row is None:
        row = DigestChoice(person_id=actor.person_id)
    else:
        row.version += 1
    row.wanted = asked.wanted
    row.quiet_from = f"{quiet.since:%H:%M}" if quiet else None
    row.quiet_until = f"{quiet.until:%H:%M}" if quiet else None
    row.kinds_off = sorted(kind.value for kind in off)
    session.add(row)
    session.flush()
    note_change(session, actor, now, ("person", actor.person_id), "morning mail", before, in_words(row))
    return row


def in_words(row: DigestChoice) -> str:
    parts = ["everything" if row.wanted else "only what must stop somebody"]
    if row.kinds_off:
        parts.append(f"without {', '.join(row.kinds_off)}")
    quiet = f"quiet from {row.quiet_from} to {row.quiet_until}" if row.quiet_from else "no quiet hours"
    return ", ".join([*parts, quiet])
