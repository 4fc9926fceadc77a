"""Heads of the rag log kept outside the database, and what the log proves against them.

A head is how many entries the log had and the last one's hash. Inside the database it proves nothing: who
can rewrite the log can rewrite the head too. So each one is printed on the day sheet, and a line of it goes
to `witnessed-heads.txt` in the data folder, to be copied with the backups and kept apart.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, func, select

from service.core.access import Actor, Permission, require
from service.core.findings import Invalid
from service.core.rag_log import GENESIS, Head, LogProof, verify
from service.records.rag_queries import chain_rows
from service.records.rags import RagChainHead, RagLogRow, WitnessedHead

FILE_NAME = "witnessed-heads.txt"
SHORTEST = 12
"""Hex digits that must be typed from paper."""
STRONG = 24
"""From here on nobody can look for another log that fits: 96 bits."""
_LINE = re.compile(r"(\d{1,18})\t([0-9a-f]{64})\t(\S{10,40})\t(.{1,120})", re.ASCII)
_FIRST = (
    "# Heads of the rag log: entries, hash of the last one, when, where it was written down.\n"
    "# Lines are only added. Keep copies of this file apart from the database.\n"
)


@dataclass(frozen=True)
class ChainHead:
    """How many entries the log has now, and the hash of the last one."""

    count: int
    hash: str


def chain_head(session: Session, *, lock: bool = False) -> ChainHead:
    """The head as kept with the log; `lock` holds writers of the log off until the transaction ends."""
    # As columns: a row that the session holds already would be answered as it was when first read.
    query = select(RagChainHead.count, RagChainHead.hash).where(col(RagChainHead.id) == 1)
    row = session.exec(query.with_for_update() if lock else query).one_or_none()
    return ChainHead(*row) if row else ChainHead(0, GENESIS)


def witness_head(
    session: Session,
    actor: Actor | None,
    now: datetime,
    folder: Path,
    where: str = "day sheet",
    head: ChainHead | None = None,
) -> WitnessedHead:
    """Write the head of the log down outside the database, and in it that this was done.

    Args:
        actor: who does it; None = the machine itself (a backup, the morning mail).
        folder: the data folder; the file in it is made when it is missing, and only ever added to.
        where: where else the head stands, such as "day sheet".
        head: the one that left the house a while ago, at ``now``; missing = the present one.

    Raises:
        NotAllowed: a student asked.
        OSError: the file cannot be written; nothing is then recorded either.
    """
    if actor is not None:
        require(actor, Permission.SEE_LOGS)
    present = chain_head(session, lock=True)
    head = head or present
    row = WitnessedHead(
        count=head.count,
        hash=head.hash,
        at=now,
        where=" ".join(where.split())[:120],
        person_id=actor.person_id if actor else None,
    )
    session.add(row)
    session.flush()
    # The entries it names are committed already (nothing is logged here), so the line is true either way.
    append_head(folder / FILE_NAME, Head(row.count, row.hash, row.at, row.where))
    return row


def append_head(path: Path, head: Head) -> None:
    """Add one line at the end of the file, on the disk when this returns."""
    path.parent.mkdir(parents=True, exist_ok=True)
    new = not path.exists()
    stamp = head.at.astimezone(UTC).isoformat(timespec="seconds")
    with path.open("a", encoding="utf-8") as file:
        file.write((_FIRST if new else "") + f"{head.count}\t{head.hash}\t{stamp}\t{head.where}\n")
        file.flush()
        os.fsync(file.fileno())


@dataclass(frozen=True)
class HeadFile:
    """The heads a file holds, and how many of its lines could not be read."""

    heads: tuple[Head, ...] = ()
    unreadable: int = 0


def heads_in(folder: Path, zone: ZoneInfo) -> HeadFile:
    """The heads in the data folder's file, in the shop's zone. No file: none."""
    path = folder / FILE_NAME
    if not path.exists():
        return HeadFile()
    heads: list[Head] = []
    unreadable = 0
    for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
        if not line.strip() or line.startswith("#"):
            continue
        head = _read(line, zone)
        if head is None:
            unreadable += 1
        else:
            heads.append(head)
    return HeadFile(tuple(heads), unreadable)


def _read(line: str, zone: ZoneInfo) -> Head | None:
    match = _LINE.fullmatch(line)
    if match is None:
        return None
    try:
        at = datetime.fromisoformat(match[3])
    except ValueError:
        return None
    if at.utcoffset() is None:
        return None
    return Head(int(match[1]), match[2], at.astimezone(zone), match[4])


@dataclass(frozen=True)
class PaperHead:
    """A head as somebody reads it off a day sheet: the number of entries and the first hex digits."""

    count: int
    digits: str
    typed_at: datetime


def read_paper(count: int, digits: str, typed_at: datetime) -> PaperHead:
    """A head typed from paper; spaces and capitals do not matter.

    Raises:
        Invalid: fewer than 12 signs, more than 64, or signs that are no hex digits.

    >>> read_paper(405, "9F86 D081 884c", datetime(2026, 3, 12, tzinfo=UTC)).digits
    '9f86d081884c'
    """
    plain = re.sub(r"[\s\-.]", "", digits).lower()
    if not re.fullmatch(r"[0-9a-f]+", plain, re.ASCII) or not SHORTEST <= len(plain) <= 64:
        words = f"Type the first {SHORTEST} signs of the hash or more, digits and the letters a to f."
        raise Invalid(words, {"digits": words})
    if not 0 <= count < 2**53:
        words = "Enter the number of entries as printed on the sheet."
        raise Invalid(words, {"count": words})
    return PaperHead(count, plain, typed_at)


def strength_words(digits: int) -> str:
    """What agreement on so many hex digits is worth.

    >>> strength_words(64)
    'The whole hash was compared.'
    """
    if digits >= 64:
        return "The whole hash was compared."
    if digits >= STRONG:
        return f"{digits} of 64 signs were compared: nobody can compute another log that agrees."
    return (
        f"{digits} of 64 signs were compared: enough against slips and changes by hand, not against somebody "
        f"who lets machines search for another log that agrees. Compare {STRONG} signs or more to rule that "
        "out."
    )


@dataclass(frozen=True)
class Proof:
    """What a check of the log shows, and what it rests on. `fits`: nothing at all was found amiss."""

    log: LogProof
    fits: bool
    outside: int
    remarks: tuple[str, ...]

    @property
    def sentence(self) -> str:
        return " ".join([self.log.sentence, *self.remarks])


def prove(session: Session, outside_heads: Sequence[Head], paper: PaperHead | None = None) -> Proof:
    """Check the whole log against itself and against heads kept outside the database.

    Args:
        outside_heads: from `heads_in`, or from anywhere else outside.
        paper: one head typed from paper.

    A short head counts as agreeing when the stored hash of its entry begins with those signs; that the stored
    hash is the true one is what the chain itself shows.
    """
    heads = list(outside_heads)
    remarks: list[str] = []
    if paper is not None:
        heads.append(_from_paper(session, paper))
        remarks.append(strength_words(len(paper.digits)))
    log = verify(chain_rows(session), heads)
    kept = session.exec(select(func.count()).select_from(WitnessedHead)).one()
    if len(outside_heads) < kept:
        remarks.append(
            f"The book says that {kept} heads were written down; {len(outside_heads)} are in the file. "
            "Compare the printed day sheets."
        )
    stored = chain_head(session)
    ends_alike = (stored.count, stored.hash) == (log.count, log.head_hash)
    if log.unbroken and not ends_alike:
        remarks.append(
            f"The head kept inside the database speaks of {stored.count} entries and does not fit: the "
            "end of the log was cut or replaced."
        )
    return Proof(log, log.unbroken and ends_alike, len(heads), tuple(remarks))


def _from_paper(session: Session, paper: PaperHead) -> Head:
    row = session.get(RagLogRow, paper.count) if paper.count else None
    stored = row.hash if row else GENESIS if paper.count == 0 else ""
    # What does not begin alike stays different however it is filled up.
    whole = stored if stored.startswith(paper.digits) else paper.digits.ljust(64, "0")
    return Head(paper.count, whole, paper.typed_at, "head typed from paper")


def in_groups(text: str, size: int = 4) -> str:
    """A hash in groups that a person can read out.

    >>> in_groups("9f86d081884c")
    '9f86 d081 884c'
    """
    return " ".join(text[i : i + size] for i in range(0, len(text), size))
