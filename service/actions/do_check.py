"""A recurring check was made: fine, or not fine with a sentence. And taking such an entry back."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlmodel import Session, col, select

from service.actions.keep_sheets import read_stored, store_file
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, NotFound, Refused, Verdict, stop
from service.core.photo_files import KEPT_AS, PhotoFile
from service.core.rag_deadlines import day_end
from service.core.recurring_checks import Result, judge_check
from service.core.reversals import may_reverse
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.check_queries import FAILED_CHECK, entries_of, open_failure, plan_of, the_check
from service.records.checks import CheckDone, RecurringCheck
from service.records.duties import Duty
from service.records.owners import who_is_here
from service.records.places import Place
from service.records.rag_queries import active_keepers


@dataclass(frozen=True, kw_only=True)
class DoneAsked:
    """A check that was made.

    Args:
        result: fine or not fine.
        sentence: what is not fine, a real sentence; with fine it may stay empty.
        done_about: what was done about it, may be empty.
        happened_at: None = now; more than 15 minutes ago needs ``late_reason``.
        photo: made anew (``remake_photo.py``) before the transaction.
    """

    once: str
    check_id: int
    result: Result
    sentence: str = ""
    done_about: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""
    photo: PhotoFile | None = None

    def body(self) -> dict[str, Any]:
        picture = hashlib.sha256(self.photo.content).hexdigest() if self.photo else None
        return {
            "check": self.check_id, "result": self.result.value, "sentence": self.sentence,
            "done_about": self.done_about, "photo": picture,
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
        }  # fmt: skip


def do_check(
    session: Session, actor: Actor, now: datetime, asked: DoneAsked, folder: Path | None = None
) -> Settled:
    """Write down that a check was made; answers the number of the entry and whether a failure stands.

    Raises:
        NotAllowed: a student or reader.
        NotFound: no such check.
        Invalid: not fine without a sentence; a time to come, or long ago without its reason.
        Refused: the check had ended by then and nothing of it stands open.
    """
    require(actor, Permission.DO_CHECKS)
    sent = Sent(asked.once, "do-check", asked.body(), asked.happened_at, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _done(act, asked, folder))


def _done(act: Act, asked: DoneAsked, folder: Path | None) -> dict[str, Any]:
    if asked.result is Result.TAKEN_BACK:
        words = "Choose fine or not fine."
        raise Invalid(words, {"result": words})
    sentence, about = _text(asked.sentence, "sentence"), _text(asked.done_about, "done_about")
    if asked.result is Result.NOT_FINE and not is_sentence(sentence):
        words = f"Say what is not fine in {A_SENTENCE}."
        raise Invalid(words, {"sentence": words})
    row = the_check(act.session, asked.check_id, lock=True)
    if row.until is not None and act.day > row.until and open_failure(act.session, asked.check_id) is None:
        words = f"{row.what}: this check has ended. A keeper sets a new one."
        raise Refused(Verdict.of([stop("check-ended", words, about=row.what)]))
    digest = None
    if asked.photo is not None:
        assert folder is not None, "a photograph needs the folder of files"
        digest = store_file(act, asked.photo.name, asked.photo.content, KEPT_AS, folder)
    entry = _write(act, row, asked.result, sentence, about, digest)
    failed = _settle_failure(act, row)
    return {"entry": entry.id, "check": row.id, "what": row.what, "failed": failed, "late": entry.late}


def _text(text: str, field: str) -> str:
    kept = text.strip()
    if len(kept) > 2000:
        words = "Shorten it to 2000 signs."
        raise Invalid(words, {field: words})
    return kept


def _write(
    act: Act, row: RecurringCheck, result: Result, sentence: str, about: str = "", photo: str | None = None,
    reverses: int | None = None,
) -> CheckDone:  # fmt: skip
    entry = CheckDone(
        posting_id=act.posting_id, check_id=row.id or 0, result=result, sentence=sentence, done_about=about,
        photo_sha256=photo, reverses_id=reverses, person_id=act.actor.person_id, on_day=act.day,
        happened_at=act.happened_at, recorded_at=act.recorded_at, late=act.posting.late,
        late_reason=act.posting.late_reason,
    )  # fmt: skip
    act.session.add(entry)
    act.session.flush()
    return entry


def _settle_failure(act: Act, row: RecurringCheck) -> bool:
    """Open or end the duty of the owner, by what the entries say now; whether a failure stands."""
    number = row.id or 0
    today = act.recorded_at.astimezone(act.zone).date()
    state = judge_check(plan_of(row), entries_of(act.session, [number])[number], today)
    duty = open_failure(act.session, number)
    if not state.failed:
        if duty is not None:
            duty.done_at, duty.done_by = act.recorded_at, act.actor.person_id
            duty.answer = "The check was made again and is fine, or the entry was taken back."
            act.session.add(duty)
    else:
        assert state.last is not None
        said = _failure_words(act, row, state.last.sentence)
        if duty is None:
            duty = Duty(
                kind=FAILED_CHECK, sentence=said, owed_by=_owed_by(act, row, today),
                due_at=day_end(act.recorded_at, act.zone), about_kind="recurring-check", about_id=number,
                created_at=act.recorded_at,
            )  # fmt: skip
        duty.sentence = said
        act.session.add(duty)
    act.session.flush()
    return state.failed


def _failure_words(act: Act, row: RecurringCheck, sentence: str) -> str:
    place = act.session.get(Place, row.place_id) if row.place_id else None
    where = f", {place.name}" if place else ""
    return f"{row.what}{where}: not fine. {sentence}"[:500]


def _owed_by(act: Act, row: RecurringCheck, today: Any) -> int:
    """The owner; who is not here any more leaves it to a keeper."""
    if row.owner_id in who_is_here(act.session, today):
        return row.owner_id
    keepers = active_keepers(act.session)
    mine = act.actor.person_id in keepers or not keepers
    return act.actor.person_id if mine else keepers[0]


@dataclass(frozen=True)
class TakeBackAsked:
    """An entry to take back, and why."""

    once: str
    entry_id: int
    reason: str


def take_back_check(session: Session, actor: Actor, now: datetime, asked: TakeBackAsked) -> Settled:
    """Take an entry back with an entry of its own; nothing is erased. A failure may stand again after it.

    Raises:
        NotAllowed, NotFound.
        Refused: not theirs, from another day, taken back already, or itself one that takes back.
    """
    require(actor, Permission.DO_CHECKS)
    sent = Sent(asked.once, "take-back-check", {"entry": asked.entry_id, "reason": asked.reason})
    return settle(session, actor, sent, now, lambda act: _take_back(act, asked))


def _take_back(act: Act, asked: TakeBackAsked) -> dict[str, Any]:
    entry = act.session.get(CheckDone, asked.entry_id)
    if entry is None:
        raise NotFound(f"There is no check entry number {asked.entry_id}.")
    row = the_check(act.session, entry.check_id, lock=True)
    refuse_taking_back(act, entry.person_id, entry.recorded_at, asked.reason)
    gone = select(CheckDone.id).where(col(CheckDone.reverses_id) == asked.entry_id)
    if entry.result is Result.TAKEN_BACK or act.session.exec(gone).first() is not None:
        raise Refused(Verdict.of([stop("taken-back-already", "This entry was taken back already.")]))
    back = _write(act, row, Result.TAKEN_BACK, _text(asked.reason, "reason"), reverses=entry.id)
    failed = _settle_failure(act, row)
    return {"entry": back.id, "check": row.id, "what": row.what, "failed": failed}


def refuse_taking_back(act: Act, whose: int, recorded_at: datetime, reason: str) -> None:
    """Raise Refused unless this person may take it back: an own entry of the same day, or a keeper."""
    verdict = may_reverse(
        act.actor.role,
        own=whose == act.actor.person_id,
        age=act.recorded_at - recorded_at,
        same_day=recorded_at.astimezone(act.zone).date() == act.recorded_at.astimezone(act.zone).date(),
        reason=reason,
    )
    if verdict.blocking:
        raise Refused(verdict)


def read_check_photo(session: Session, check_id: int, entry_id: int, folder: Path) -> bytes:
    """The photograph of an entry. Raises NotFound: no such entry, none with it, or its file is gone."""
    entry = session.get(CheckDone, entry_id)
    if entry is None or entry.check_id != check_id or entry.photo_sha256 is None:
        raise NotFound("There is no photograph with this entry.")
    return read_stored(session, entry.photo_sha256, folder, "photograph")[1]
