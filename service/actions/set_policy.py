"""A keeper sets how long a kind, or one material, keeps. Earlier policies stay in the table as history.

The stored dates of every container concerned are settled anew in the same transaction.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlmodel import Session

from service.actions.jars_of_solution import OfSolution, boxes_in_use, jars_of_solution
from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.settle_solutions import settle_solutions_of
from service.actions.spread_facts import spread
from service.core.access import Actor, Permission, require
from service.core.ageing import judge
from service.core.ageing_policies import LONGEST_MONTHS, AgeingPolicy, PolicyEnd
from service.core.containers import Standing
from service.core.dissolved_life import GLUE, SHELLAC
from service.core.findings import Invalid, Stale, warn
from service.core.materials import MaterialKind
from service.core.sources import Grade
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.ageing_queries import lives_of, policy_of
from service.records.materials import AgeingPolicyRow
from service.records.policy_queries import Subject, history, materials_concerned, own_material
from service.records.settle_dates import containers_to_settle, settle_them, standings_of_all

WEAK = (Grade.WEB, Grade.MEMORY)
"""Grades behind which there is no published rule: such a policy is a house policy."""


@dataclass(frozen=True, kw_only=True)
class PolicyAsked:
    """A policy to set.

    Args:
        once: the key that makes resending harmless, 1 to 64 signs.
        subject: whom it is for.
        end: what the end of the life means.
        sealed_months … opened_days: lives, each in months or in days; None = no figure.
        hard_months: no check goes past it; extends_months, max_extensions: what a passed check gives.
        source, grade, house_policy: on whose word.
        note: what a check looks at.
        reason: why it is set now; always asked.
        seen_id: the row that was in force when the page was opened (0: none); another one now is stale.
    """

    once: str
    subject: Subject
    end: PolicyEnd
    reason: str
    sealed_months: int | None = None
    opened_months: int | None = None
    sealed_days: int | None = None
    opened_days: int | None = None
    hard_months: int | None = None
    extends_months: int | None = None
    max_extensions: int | None = None
    source: str = ""
    grade: str = ""
    house_policy: bool = True
    note: str = ""
    seen_id: int | None = None

    def body(self) -> dict[str, Any]:
        kept = asdict(self)
        return {name: value for name, value in kept.items() if name not in ("once", "seen_id")}


def set_policy(session: Session, actor: Actor, now: datetime, asked: PolicyAsked) -> Settled:
    """Set an ageing policy and settle every container concerned.

    Raises:
        NotAllowed: not a keeper.
        NotFound: no such material, no policy was ever set for that key.
        Invalid: figures that contradict, no reason, a published policy without its source.
        Stale: somebody else set one since the page was opened.
    """
    require(actor, Permission.POLICIES)
    sent = Sent(asked.once, "set-policy", asked.body())
    return settle(session, actor, sent, now, lambda act: _set(act, asked))


def _set(act: Act, asked: PolicyAsked) -> dict[str, Any]:
    session, subject = act.session, asked.subject
    material = own_material(session, subject)
    policy = judged(asked)
    earlier = history(session, subject)
    if asked.seen_id is not None and asked.seen_id != (earlier[0].id if earlier else 0):
        raise Stale("Somebody else set this policy meanwhile. Look at it again.")
    if earlier:
        _another(policy, policy_of(earlier[0]))
    # Judged before and after, so that the keeper reads what the change did on the shelves.
    concerned = [one.id for one in materials_concerned(session, subject)]
    today = act.recorded_at.astimezone(act.zone).date()
    boxes = containers_to_settle(session, concerned)
    solution = _solution(session, subject, {box.id for box in boxes.rows})
    before = standings_of_all(session, boxes, today) + _standings(session, solution.jars, today)
    row = _row(act, asked, policy, earlier[0] if earlier else None)
    after = settle_them(session, boxes, today)
    session.flush()
    settle_solutions_of(act, solution.stuff)
    spread(act, {*concerned, *solution.stuff}, dates=True)
    after += _standings(session, solution.jars, today)
    name = subject.in_words(material)
    was = policy_of(earlier[0]).in_words() if earlier else "none"
    note_change(
        session, act.actor, act.recorded_at, ("ageing policy", row.id), name[:60], was, policy.in_words(),
        asked.reason.strip(),
    )
    _remark(act, policy)
    moved = Counter(now.value for was, now in zip(before, after, strict=True) if was is not now)
    return {"policy": row.id, "for": name, "containers": len(before), "moved": dict(moved)}


def _solution(session: Session, subject: Subject, without: set[int]) -> OfSolution:
    """What goes by this policy as a solution: jars of mixes, whose own material goes by another one."""
    if subject.key not in (SHELLAC, GLUE):
        return OfSolution(frozenset(), frozenset())
    found = jars_of_solution(session, subject.key)
    return found._replace(jars=found.jars - without)


def _standings(session: Session, jars: Iterable[int], today: date) -> list[Standing]:
    boxes = boxes_in_use(session, jars)
    return [judge(life, today).standing for life in lives_of(session, boxes)]


def judged(asked: PolicyAsked) -> AgeingPolicy:
    """The policy, if its figures make sense together.

    Raises:
        Invalid: with a sentence for each field.
    """
    wrong = {**_figures(asked), **_word(asked)}
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    return AgeingPolicy(
        end=asked.end,
        sealed_months=asked.sealed_months,
        opened_months=asked.opened_months,
        sealed_days=asked.sealed_days,
        opened_days=asked.opened_days,
        hard_months=asked.hard_months,
        extends_months=asked.extends_months,
        max_extensions=asked.max_extensions,
        source=asked.source.strip(),
        grade=asked.grade,
        house_policy=asked.house_policy,
    )


def _another(policy: AgeingPolicy, before: AgeingPolicy) -> None:
    """Whether it is another policy than before, and other figures do not stand under the old source.

    Raises:
        Invalid: nothing was changed, or published figures were changed and the source was not.
    """
    if policy == before:
        raise Invalid("These are the figures and the source that stand already. Nothing was changed.")
    same = replace(policy, source=before.source, grade=before.grade, house_policy=before.house_policy)
    if same != before and not policy.house_policy and policy.source == before.source:
        words = (
            f"These are not the figures of {before.source}. Say that it is this shop's own house policy, or "
            "name the source of the new figures."
        )
        raise Invalid(words, {"source": words})


def _figures(asked: PolicyAsked) -> dict[str, str]:
    """What is wrong with months, days and checks, by field."""
    wrong: dict[str, str] = {}
    lives = ("sealed_months", "opened_months", "hard_months", "extends_months", "sealed_days", "opened_days")
    figures = {name: getattr(asked, name) for name in (*lives, "max_extensions")}
    for name in lives:
        most = LONGEST_MONTHS * (31 if name.endswith("days") else 1)
        if figures[name] is not None and not 1 <= figures[name] <= most:
            wrong[name] = f"Enter a whole number from 1 to {most}."
    for life in ("sealed", "opened"):
        if None not in (figures[f"{life}_months"], figures[f"{life}_days"]):
            wrong[f"{life}_days"] = "Enter the life in months or in days, not both."
    if asked.max_extensions is not None and not 0 <= asked.max_extensions <= 100:
        wrong["max_extensions"] = "Enter a whole number from 0 to 100."
    if asked.end in (PolicyEnd.INDEFINITE, PolicyEnd.PARTS) and any(v is not None for v in figures.values()):
        wrong["end"] = "Leave every figure empty with this end, or choose another end."
    if asked.end is PolicyEnd.PARTS and asked.subject != Subject(kind=MaterialKind.MADE_MIX):
        wrong["end"] = "Only made mixes follow what went into them. Choose another end."
    if asked.end is PolicyEnd.EXPIRY and (asked.extends_months, asked.max_extensions) != (None, None):
        wrong["extends_months"] = "A check moves no expiry. Leave this empty, or choose the end by check."
    if asked.hard_months is not None and asked.hard_months < (asked.sealed_months or 0):
        wrong["hard_months"] = "Enter a last end that is not before the end of the sealed life."
    return wrong


def _word(asked: PolicyAsked) -> dict[str, str]:
    """What is missing of whose word it is and why it is set."""
    wrong: dict[str, str] = {}
    if not is_sentence(asked.reason):
        wrong["reason"] = f"Enter why you set it, in {A_SENTENCE}."
    if asked.grade not in tuple(Grade):
        wrong["grade"] = "Choose how well the figures are sourced."
    elif not asked.house_policy and (asked.grade in WEAK or not asked.source.strip()):
        wrong["source"] = (
            "Name the published source and its grade, or say that it is this shop's own house policy."
        )
    return wrong


def _row(
    act: Act, asked: PolicyAsked, policy: AgeingPolicy, before: AgeingPolicyRow | None
) -> AgeingPolicyRow:
    subject = asked.subject
    row = AgeingPolicyRow(
        key=before.key if before is not None and subject.key else "",
        kind=before.kind if before is not None and subject.key else subject.kind,
        material_id=subject.material_id,
        sealed_months=policy.sealed_months,
        opened_months=policy.opened_months,
        sealed_days=policy.sealed_days,
        opened_days=policy.opened_days,
        end=policy.end.value,
        hard_months=policy.hard_months,
        extends_months=policy.extends_months,
        max_extensions=policy.max_extensions,
        source=policy.source,
        grade=policy.grade,
        house_policy=policy.house_policy,
        note=asked.note.strip(),
        reason=asked.reason.strip(),
        set_by=act.actor.person_id,
        set_at=act.recorded_at,
    )
    act.session.add(row)
    act.session.flush()
    return row


def _remark(act: Act, policy: AgeingPolicy) -> None:
    if policy.ages and not (policy.has_sealed_life and policy.has_opened_life):
        act.note(warn("life-not-given", "Where a life has no figure, containers stand as not known."))
    if policy.extends is not None and policy.hard_months is None and policy.max_extensions is None:
        act.note(warn("no-hard-stop", "Passed checks can go on for ever: there is no last end."))
