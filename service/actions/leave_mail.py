"""Secret addresses in a mail by which its person leaves a kind of it out, without signing in (RFC 8058)."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from typing import Final

from sqlmodel import Session, col, delete, select

from service.actions.choose_morning import in_words
from service.actions.note_change import note_change
from service.core.access import Actor
from service.core.digest import ALL_KINDS, SWITCHABLE
from service.core.findings import NotFound
from service.core.sign_in_rules import token_hash
from service.records.notices import DigestChoice, MailLeave
from service.records.owners import Here, who_is_here

LASTS: Final = timedelta(days=400)
"""How long an address in a mail works; a mail that old has been followed by others with their own."""
BY_MAIL: Final = "by the address in a mail"
_NOTHING: Final = "There is nothing at this address. Choose which mail you get on your page Morning mail."


def leave_tokens(
    session: Session, person_id: int, kinds: Iterable[str], now: datetime, secrets: Callable[[], str]
) -> dict[str, str]:
    """A new secret for each kind of one mail; only their hashes are kept. Those that are too old go."""
    session.exec(delete(MailLeave).where(col(MailLeave.created_at) < now - LASTS))
    tokens = {kind: secrets() for kind in kinds}
    for kind, token in tokens.items():
        hashed = token_hash(token)
        session.add(MailLeave(token_hash=hashed, person_id=person_id, kind=kind, created_at=now))
    session.flush()
    return tokens


def what_it_leaves(session: Session, now: datetime, today: date, token: str) -> tuple[MailLeave, Here]:
    """What a secret leaves out, and whose mail it is. It only reads.

    Raises:
        NotFound: no such address, too old, or its person is not here any more; all told alike.
    """
    row = session.exec(
        select(MailLeave).where(col(MailLeave.token_hash) == token_hash(token))
    ).one_or_none()
    known = row is not None and row.kind in {ALL_KINDS, *(kind.value for kind in SWITCHABLE)}
    if row is None or not known or now - row.created_at > LASTS:
        raise NotFound(_NOTHING)
    person = who_is_here(session, today).get(row.person_id)
    if person is None:
        raise NotFound(_NOTHING)
    return row, person


def leave_out(session: Session, now: datetime, today: date, token: str) -> tuple[str, Here]:
    """Leave the kind out from now on; harmless to repeat. Returns the kind and whose mail it is.

    What must stop somebody, and oily rags, are told all the same: no such kind has an address.

    Raises:
        NotFound: as `what_it_leaves`.
    """
    row, person = what_it_leaves(session, now, today, token)
    choice = session.get(DigestChoice, person.id, with_for_update=True, populate_existing=True)
    before = in_words(choice) if choice is not None else "everything, no quiet hours"
    fresh = choice is None
    choice = choice or DigestChoice(person_id=person.id)
    off = set(choice.kinds_off)
    wanted = choice.wanted and row.kind != ALL_KINDS
    if row.kind != ALL_KINDS:
        off.add(row.kind)
    if fresh or (wanted, sorted(off)) != (choice.wanted, sorted(choice.kinds_off)):
        choice.version = 1 if fresh else choice.version + 1
        choice.wanted, choice.kinds_off = wanted, sorted(off)
        session.add(choice)
    row.used_at = row.used_at or now
    session.add(row)
    session.flush()
    actor = Actor(person.id, person.name, person.role)
    note_change(session, actor, now, ("person", person.id), "morning mail", before, in_words(choice), BY_MAIL)
    return row.kind, person
