"""Add an entry to the hash-chained rag log. The only place that writes to it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlmodel import Session, col, select

from service.core.rag_log import GENESIS, canonical, entry_hash
from service.records.rags import RagChainHead, RagLogRow


def _locked_head(session: Session) -> RagChainHead:
    head = session.exec(
        select(RagChainHead)
        .where(col(RagChainHead.id) == 1)
        .with_for_update()
        .execution_options(populate_existing=True)
    ).one_or_none()
    if head is None:
        head = RagChainHead(id=1, count=0, hash=GENESIS)
        session.add(head)
        session.flush()
    return head


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
) -> RagLogRow:
    """Add one entry after the last one; both instants aware.

    Args:
        kind: what sort of entry: load-made, draw-joined, step, given-to, job-closed, violation, override,
            unexplained-use, correction.
        data: the rest of what is written; only what `core.rag_log.canonical` can represent.
    """
    head = _locked_head(session)
    entry = {
        "kind": kind,
        "load": load_id,
        "person": person_id,
        "posting": posting_id,
        "happened_at": happened_at,
        "recorded_at": recorded_at,
        **data,
    }
    seq = head.count + 1
    row = RagLogRow(
        id=seq,
        kind=kind,
        load_id=load_id,
        person_id=person_id,
        posting_id=posting_id,
        happened_at=happened_at,
        recorded_at=recorded_at,
        body=canonical(entry).decode(),
        prev_hash=head.hash,
        hash=entry_hash(head.hash, seq, entry),
    )
    session.add(row)
    head.count, head.hash = seq, row.hash
    session.add(head)
    session.flush()
    return row
