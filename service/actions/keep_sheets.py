"""Safety data sheets: the file by its hash, and what it is: its date, its law, copied whole or not.

A sheet is never taken away; a newer one is added.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from sqlmodel import Session

from service.actions.note_change import note_change
from service.actions.set_up_shop import REGIMES
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, NotFound
from service.core.sheet_files import media_type, plain_name
from service.records.database_copies import settle_on_disk
from service.records.material_queries import the_material
from service.records.materials import SafetySheet, StoredFile


@dataclass(frozen=True)
class SheetAsked:
    """A sheet as it came.

    Args:
        sheet_date: the date of issue or revision on it; None = not known.
        copied_whole: sections 2, 3 and 9 were copied into the book whole; a keeper's word.
        name: what the file was called; only text.
        content: the file; empty when only the facts of a paper sheet are written down.
    """

    once: str
    regime: str
    sheet_date: date | None = None
    copied_whole: bool = False
    name: str = ""
    content: bytes = b""

    def sent(self, material_id: int) -> Sent:
        body = {
            "material": material_id,
            "regime": self.regime,
            "date": self.sheet_date.isoformat() if self.sheet_date else None,
            "whole": self.copied_whole,
            "file": hashlib.sha256(self.content).hexdigest() if self.content else None,
        }
        return Sent(self.once, "keep-sheet", body)


def keep_sheet(
    session: Session, actor: Actor, now: datetime, material_id: int, asked: SheetAsked, folder: Path
) -> Settled:
    """Add a sheet to a material; answers ``material``, ``sheet``, ``file`` (hash or None).

    Args:
        folder: where files lie (``settings.files``); it is made if it is not there.

    Raises:
        NotAllowed: also when somebody else than a keeper says that it was copied whole.
        NotFound, Invalid: no such law, a date to come, a file of another kind or too large.
    """
    require(actor, Permission.DESCRIBE_MATERIAL)
    if asked.copied_whole:
        require(actor, Permission.MATERIAL_FACTS)
    if asked.regime not in REGIMES:
        words = "Choose the law the sheet was written under; it is named in section 15 or at its head."
        raise Invalid(words, {"regime": words})
    kind = _kind(asked.content)
    return settle(
        session, actor, asked.sent(material_id), now, lambda act: _keep(act, material_id, asked, kind, folder)
    )


def _kind(content: bytes) -> str:
    if not content:
        return ""
    try:
        return media_type(content)
    except Invalid as wrong:
        wrong.errors.setdefault("sheet", wrong.sentence)
        raise


def _keep(act: Act, material_id: int, asked: SheetAsked, kind: str, folder: Path) -> dict[str, Any]:
    material = the_material(act.session, material_id)
    if asked.sheet_date is not None and asked.sheet_date > act.day:
        words = "Enter the date on the sheet: that day has not come yet."
        raise Invalid(words, {"sheet_date": words})
    digest = store_file(act, asked.name, asked.content, kind, folder) if asked.content else None
    row = SafetySheet(
        material_id=material_id,
        regime=asked.regime,
        sheet_date=asked.sheet_date,
        copied_whole=asked.copied_whole,
        file_sha256=digest,
        added_by=act.actor.person_id,
        added_at=act.recorded_at,
    )
    act.session.add(row)
    act.session.flush()
    said = f"{asked.regime}, {asked.sheet_date or 'date not known'}, {'copied whole' * asked.copied_whole}"
    about = ("material", material.id)
    note_change(act.session, act.actor, act.recorded_at, about, "sheet", None, said.rstrip(", "))
    return {"material": material_id, "sheet": row.id, "file": digest}


def store_file(act: Act, name: str, content: bytes, kind: str, folder: Path) -> str:
    """Keep a file under its hash, which is the answer; the same file twice lies there once.

    Args:
        kind: its media type, told by its own bytes before.
    """
    digest = hashlib.sha256(content).hexdigest()
    write_file(folder, digest, content)
    if act.session.get(StoredFile, digest) is None:
        act.session.add(
            StoredFile(
                sha256=digest,
                name=plain_name(name),
                media_type=kind,
                size_bytes=len(content),
                added_by=act.actor.person_id,
                added_at=act.recorded_at,
            )
        )
        act.session.flush()
    return digest


def file_path(folder: Path, digest: str) -> Path:
    """Where a file lies: by its hash only, two signs of it as a folder.

    >>> file_path(Path("files"), "ab" * 32).parts[:2]
    ('files', 'ab')
    """
    return folder / digest[:2] / digest


def write_file(folder: Path, digest: str, content: bytes) -> None:
    """Write once and whole: beside its place first, then moved there, so that nobody sees half a file.

    Raises:
        OSError: the disk is full or refuses; nothing of the file is left.

    If the transaction is rolled back afterwards the file stays without a row; it does no harm.
    """
    path = file_path(folder, digest)
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix="new-")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        Path(name).replace(path)
    except OSError:  # a full disk must not be filled further with halves
        Path(name).unlink(missing_ok=True)
        raise
    settle_on_disk(path.parent)


def read_sheet_file(
    session: Session, material_id: int, sheet_id: int, folder: Path
) -> tuple[StoredFile, bytes]:
    """The file of one sheet of one material.

    Raises:
        NotFound: no such sheet, no file with it, or the file is not where it belongs or was changed.
    """
    sheet = session.get(SafetySheet, sheet_id)
    if sheet is None or sheet.material_id != material_id or sheet.file_sha256 is None:
        raise NotFound("There is no such sheet, or it was written down without a file.")
    return read_stored(session, sheet.file_sha256, folder, "sheet")


def read_stored(session: Session, digest: str, folder: Path, what: str) -> tuple[StoredFile, bytes]:
    """A kept file by its hash; ``what`` says what it is ("sheet").

    Raises:
        NotFound: the file is not where it belongs, or was changed.
    """
    stored = session.get(StoredFile, digest)
    path = file_path(folder, digest)
    if stored is None or not path.is_file():
        raise NotFound(f"The file of this {what} is not where it belongs. Fetch it from the backup.")
    content = path.read_bytes()
    if hashlib.sha256(content).hexdigest() != stored.sha256:
        raise NotFound(f"The file of this {what} was changed on the disk. Fetch it from the backup.")
    return stored, content
