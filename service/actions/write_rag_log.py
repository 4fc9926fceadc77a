"""Add an entry to the hash-chained rag log. The only place that writes to it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import Connection, insert, select, update
from sqlmodel import Session, col

from service.core.rag_log import GENESIS, canonical, chained
from service.records.rags import RagChainHead, RagLogRow

# By columns, on the connection: an entry is added with every draw of what is self-heating, and rows that the
# session keeps and compares would cost as much again as the entry.
_COUNT, _HASH, _ONLY = col(RagChainHead.count), col(RagChainHead.hash), col(RagChainHead.id) == 1
_LOCKED = select(_COUNT, _HASH).where(_ONLY).with_for_update()
_ADD = insert(RagLogRow)
_MOVE_ON = update(RagChainHead).where(_ONLY)


def _locked_head(connection: Connection) -> tuple[int, str]:
    """How many entries there are and the last one's hash; nobody else adds one until the transaction ends."""
    head = connection.execute(_LOCKED).one_or_none()
    if head is None:
        connection.execute(insert(RagChainHead).values(id=1, count=0, hash=GENESIS))
        return 0, GENESIS
    count, last = head
    return count, last


def write_rag_log(
    session: Session,
    *,
    kind: str,
    load_id: int | None,
    person_id: int | None,
    posting_id: int | None,
    happened_at: datetime,
    recorded_at: datetime,
    data: Mapping[str, object],
) -> None:
    """Add one entry after the last one; both instants aware.

    Args:
        kind: what sort of entry: load-made, draw-joined, went-on, step, given-to, job-closed, violation,
            override, unexplained-use, correction.
        data: the rest of what is written; only what `core.rag_log.canonical` can represent.
    """
    session.flush()  # what the entry points at is written before it
    connection = session.connection()
    count, previous = _locked_head(connection)
    row = {"kind": kind, "happened_at": happened_at, "recorded_at": recorded_at}
    written = canonical({"load": load_id, "person": person_id, "posting": posting_id, **row, **data})
    numbers = {"load_id": load_id, "person_id": person_id, "posting_id": posting_id}
    seq, digest = count + 1, chained(previous, count + 1, written)
    links = {"id": seq, "body": written.decode(), "prev_hash": previous, "hash": digest}
    connection.execute(_ADD, row | numbers | links)
    connection.execute(_MOVE_ON, {"count": seq, "hash": digest})
