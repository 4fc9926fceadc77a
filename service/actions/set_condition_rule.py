"""A keeper sets what follows from a finding of a condition check. Earlier rules stay as history.

What was checked before keeps what followed from it then: a rule speaks for the checks that come after it.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.actions.note_change import note_change
from service.actions.set_policy import WEAK
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.conditions import CONSEQUENCE_WORDS, FOUND_WORDS, Consequence, Found, is_softer
from service.core.findings import Invalid, Stale
from service.core.materials import KIND_WORDS, MaterialKind
from service.core.sources import Grade
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.condition_queries import history_of, rule_for
from service.records.condition_rules import ConditionRuleRow
from service.records.knowledge_conditions import known_conditions


@dataclass(frozen=True, kw_only=True)
class ConditionRuleAsked:
    """A rule to set.

    Args:
        once: the key that makes resending harmless, 1 to 64 signs.
        kind: for this kind only; None = for every kind without a rule of its own.
        what_to_do: said to whoever finds it, up to 500 signs.
        source, grade, house_policy: on whose word.
        reason: why it is set now; always asked.
        seen_id: the newest row of the finding when the page was opened (0: none); another one now is stale.
    """

    once: str
    found: Found
    consequence: Consequence
    what_to_do: str
    reason: str
    kind: MaterialKind | None = None
    source: str = ""
    grade: str = Grade.MEMORY.value
    house_policy: bool = True
    seen_id: int | None = None

    def body(self) -> dict[str, Any]:
        kept = asdict(self)
        return {name: value for name, value in kept.items() if name not in ("once", "seen_id")}


def set_condition_rule(session: Session, actor: Actor, now: datetime, asked: ConditionRuleAsked) -> Settled:
    """Set what follows from a finding.

    Raises:
        NotAllowed: not a keeper.
        Invalid: milder than it may be, no reason, a published rule without its source.
        Stale: somebody else set one since the page was opened.
    """
    require(actor, Permission.POLICIES)
    sent = Sent(asked.once, "set-condition-rule", asked.body())
    return settle(session, actor, sent, now, lambda act: _set(act, asked))


def _set(act: Act, asked: ConditionRuleAsked) -> dict[str, Any]:
    _judge(asked)
    earlier = history_of(act.session, asked.found)
    if asked.seen_id is not None and asked.seen_id != (earlier[0].id if earlier else 0):
        raise Stale("Somebody else set what follows from it meanwhile. Look at it again.")
    own = rule_for(act.session, asked.found, asked.kind).consequence if asked.kind else None
    was = own or _general(act.session, asked.found)
    row = ConditionRuleRow(
        found=asked.found.value,
        kind=asked.kind,
        consequence=asked.consequence.value,
        what_to_do=" ".join(asked.what_to_do.split()),
        source=asked.source.strip(),
        grade=asked.grade,
        house_policy=asked.house_policy,
        reason=asked.reason.strip(),
        set_by=act.actor.person_id,
        set_at=act.recorded_at,
    )
    act.session.add(row)
    act.session.flush()
    about = f"{asked.found.value}{' of ' + KIND_WORDS[asked.kind] if asked.kind else ''}"
    note_change(
        act.session, act.actor, act.recorded_at, ("condition-rule", row.id), about[:60],
        CONSEQUENCE_WORDS[was], CONSEQUENCE_WORDS[asked.consequence],
    )  # fmt: skip
    return {
        "id": row.id,
        "found": asked.found.value,
        "for": KIND_WORDS[asked.kind] if asked.kind else "",
        "was": was.value,
        "consequence": asked.consequence.value,
    }


def _general(session: Session, found: Found) -> Consequence:
    row = next((row for row in history_of(session, found) if row.kind is None), None)
    return Consequence(row.consequence) if row else known_conditions()[found].consequence


def _judge(asked: ConditionRuleAsked) -> None:
    if not is_sentence(asked.reason):
        words = f"Say why you set it in {A_SENTENCE}."
        raise Invalid(words, {"reason": words})
    known = known_conditions()[asked.found]
    if asked.kind is not None and known.kinds and asked.kind not in known.kinds:
        words = f"{KIND_WORDS[asked.kind].capitalize()} does not show this. Choose a kind from the list."
        raise Invalid(words, {"kind": words})
    if is_softer(asked.consequence, known.softest):
        words = (
            f"{FOUND_WORDS[asked.found].capitalize()}: at the mildest it {CONSEQUENCE_WORDS[known.softest]}. "
            "No shop sets it milder."
        )
        raise Invalid(words, {"consequence": words})
    if asked.consequence is not Consequence.PASSES and not asked.what_to_do.strip():
        words = "Write what whoever finds it shall do."
        raise Invalid(words, {"what_to_do": words})
    if asked.grade not in tuple(Grade):
        raise Invalid("Choose how well it is sourced.", {"grade": "Choose how well it is sourced."})
    if not asked.house_policy and (not asked.source.strip() or Grade(asked.grade) in WEAK):
        words = "Name the published source, or call it a house policy."
        raise Invalid(words, {"source": words})
