"""Deriving everything the books keep ready from the acts alone, and saying every place where they differ."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, SQLModel, select

from service.actions.check_containers import container_faults, wall_of
from service.actions.check_links import allocation_faults, decant_faults, posting_faults, rag_load_faults
from service.core.rag_log import Head, LogProof, verify
from service.records.ledger_rows import every_container
from service.records.rag_queries import chain_rows
from service.records.rags import RagChainHead
from service.records.stock import Container, ContainerEvent, Movement, Posting


@dataclass(frozen=True)
class LedgerReport:
    """What the check found. ``counts`` says how much was looked at, ``faults`` each difference in words."""

    faults: tuple[str, ...]
    counts: dict[str, int] = field(default_factory=dict)
    log_sentence: str = ""

    @property
    def holds(self) -> bool:
        """True when nothing differs; a log without an outside witness is said, but is no difference."""
        return not self.faults

    @property
    def exit_code(self) -> int:
        """0 when the books hold together, else 1."""
        return 0 if self.holds else 1

    @property
    def words(self) -> list[str]:
        """The report in plain lines, for the command and the page.

        >>> LedgerReport((), {"containers": 2}, "Unbroken, 1 entry; no outside witness yet.").words
        ['The ledger holds together: 2 containers.', 'Rag log: Unbroken, 1 entry; no outside witness yet.']
        """
        looked_at = ", ".join(f"{number} {name}" for name, number in self.counts.items())
        if self.holds:
            first = f"The ledger holds together: {looked_at}."
        else:
            many = "1 difference" if len(self.faults) == 1 else f"{len(self.faults)} differences"
            first = f"The ledger does not hold together: {many} in {looked_at}."
        return [first, *self.faults, f"Rag log: {self.log_sentence}"]

    def as_dict(self) -> dict[str, Any]:
        """The report as plain data."""
        return {
            "holds": self.holds,
            "faults": list(self.faults),
            "counts": self.counts,
            "rag_log": self.log_sentence,
        }


def check(session: Session, witnessed: Sequence[Head] = ()) -> LedgerReport:
    """Check every container, posting, decant, allocation and rag load, and the rag log's chain.

    Args:
        witnessed: heads of the rag log kept outside the database; without them a cut tail cannot show.
    """
    proof = verify(chain_rows(session), witnessed)
    faults = [
        *_each_container(session),
        *decant_faults(session),
        *allocation_faults(session),
        *posting_faults(session),
        # What is read from a broken log proves nothing about the loads.
        *(rag_load_faults(session) if proof.unbroken else ()),
        *_log_faults(session, proof),
    ]
    counts = {
        "containers": _count(session, Container),
        "movements": _count(session, Movement),
        "events": _count(session, ContainerEvent),
        "postings": _count(session, Posting),
        "rag log entries": proof.count,
    }
    return LedgerReport(tuple(faults), counts, proof.sentence)


def _each_container(session: Session) -> Iterator[str]:
    wall, seen = wall_of(session), 0
    for told in every_container(session):
        seen += 1
        yield from container_faults(told, wall)
    lost = _count(session, Container) - seen
    if lost:
        yield f"{lost} containers name a material that is not in the book."


def _log_faults(session: Session, proof: LogProof) -> Iterable[str]:
    if not proof.unbroken:
        return [f"The rag log is broken: {proof.what}."]
    head = session.get(RagChainHead, 1)
    kept = (head.count, head.hash) if head else (0, None)
    if kept[0] != proof.count or (head is not None and proof.count and head.hash != proof.head_hash):
        return [f"The rag log has {proof.count} entries, but its stored end says {kept[0]} or another hash."]
    return []


def _count(session: Session, table: type[SQLModel]) -> int:
    return int(session.exec(select(func.count()).select_from(table)).one())
