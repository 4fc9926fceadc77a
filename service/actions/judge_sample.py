"""The verdict on a dry board, and its photographs."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from sqlmodel import Session

from service.actions.keep_sheets import read_stored, store_file
from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.colour_samples import SampleVerdict
from service.core.findings import Invalid, NotFound, Stale
from service.core.photo_files import KEPT_AS, PhotoFile
from service.records.sample_queries import the_sample
from service.records.samples import ColourSample


@dataclass(frozen=True, kw_only=True)
class VerdictAsked:
    """How the dry board came out; ``version`` is the sample's as it was read, None = not compared."""

    once: str
    sample_id: int
    verdict: SampleVerdict
    note: str = ""
    version: int | None = None

    def body(self) -> dict[str, Any]:
        return {
            "sample": self.sample_id, "verdict": self.verdict.value, "note": self.note,
            "version": self.version,
        }  # fmt: skip


def judge_sample(session: Session, actor: Actor, now: datetime, asked: VerdictAsked) -> Settled:
    """Write down how a sample came out; a later verdict takes the place of an earlier one, which stays noted.

    Raises:
        NotAllowed, NotFound.
        Stale: somebody changed the sample meanwhile.
        Invalid: the note is too long.
    """
    require(actor, Permission.BATCHES)
    sent = Sent(asked.once, "judge-sample", asked.body())
    return settle(session, actor, sent, now, lambda act: _judge(act, asked))


def _judge(act: Act, asked: VerdictAsked) -> dict[str, Any]:
    sample = _same(act.session, asked.sample_id, asked.version)
    text = asked.note.strip()
    if len(text) > 2000:
        words = "Shorten the note to 2000 letters."
        raise Invalid(words, {"note": words})
    about = ("colour sample", sample.id)
    said = (("verdict", sample.verdict, asked.verdict.value), ("note", sample.verdict_note, text))
    for field, before, after in said:
        note_change(act.session, act.actor, act.recorded_at, about, field, before, after)
    sample.verdict, sample.verdict_note = asked.verdict.value, text
    sample.judged_by, sample.judged_at = act.actor.person_id, act.recorded_at
    sample.version += 1
    act.session.add(sample)
    act.session.flush()
    return {"sample": sample.id, "verdict": sample.verdict, "version": sample.version}


class Shows(StrEnum):
    """What a photograph shows."""

    BOARD = "board"
    TARGET = "target"


_COLUMN = {Shows.BOARD: "photo_sha256", Shows.TARGET: "target_photo_sha256"}


def keep_photos(
    session: Session, actor: Actor, now: datetime, once: str, sample_id: int, photos: dict[Shows, PhotoFile],
    folder: Path,
) -> Settled:  # fmt: skip
    """Keep one or two photographs of a sample; a newer one takes the place of an older, whose file stays.

    Args:
        photos: made anew (``remake_photo.py``) before the transaction.
        folder: where files lie (``settings.files``).

    Raises:
        NotAllowed, NotFound.
        Invalid: there is no photograph.
    """
    require(actor, Permission.BATCHES)
    if not photos:
        words = "Take a photograph, or choose one."
        raise Invalid(words, {Shows.BOARD.value: words})
    body = {"sample": sample_id} | {
        shows.value: hashlib.sha256(photo.content).hexdigest() for shows, photo in photos.items()
    }
    sent = Sent(once, "keep-photo", body)
    return settle(session, actor, sent, now, lambda act: _keep(act, sample_id, photos, folder))


def _keep(act: Act, sample_id: int, photos: dict[Shows, PhotoFile], folder: Path) -> dict[str, Any]:
    sample = _same(act.session, sample_id, None)
    about = ("colour sample", sample.id)
    kept: dict[str, Any] = {"sample": sample.id}
    for shows, photo in photos.items():
        digest = store_file(act, photo.name, photo.content, KEPT_AS, folder)
        column = _COLUMN[shows]
        before = getattr(sample, column)
        note_change(act.session, act.actor, act.recorded_at, about, f"photo of the {shows}", before, digest)
        setattr(sample, column, digest)
        kept[shows.value] = digest
    sample.version += 1
    act.session.add(sample)
    act.session.flush()
    return kept


def read_photo(session: Session, sample: ColourSample, shows: Shows, folder: Path) -> bytes:
    """The photograph of a sample's board or target.

    Raises:
        NotFound: there is none, or its file is not where it belongs or was changed.
    """
    digest = getattr(sample, _COLUMN[shows])
    if digest is None:
        raise NotFound(f"There is no photograph of the {shows} yet.")
    return read_stored(session, digest, folder, "photograph")[1]


def _same(session: Session, sample_id: int, version: int | None) -> ColourSample:
    sample = the_sample(session, sample_id, lock=True)
    if version is not None and sample.version != version:
        raise Stale("Somebody else changed this colour sample. Open it again and compare.")
    return sample
