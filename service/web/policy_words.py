"""An ageing policy in words for its pages: lines of the list, facts with whose word they are, history."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.core.ageing_policies import END_WORDS, PolicyEnd
from service.core.containers import STANDING_WORDS, Standing
from service.core.materials import KIND_WORDS, MaterialKind
from service.core.months import say_life
from service.core.sources import GRADE_WORDS, Grade
from service.records.ageing_queries import policy_of
from service.records.materials import AgeingPolicyRow, Material
from service.records.people import Person
from service.records.policy_queries import Subject, subject_of
from service.web.render import day

END_SHORT = {
    PolicyEnd.EXPIRY: "expires",
    PolicyEnd.RETEST: "is checked",
    PolicyEnd.INDEFINITE: "does not age",
    PolicyEnd.PARTS: "as its parts",
}


def line(row: AgeingPolicyRow | None, subject: Subject) -> dict[str, Any]:
    href = f"/policies/{subject.address}"
    name = {"href": href, "words": subject.in_words()}
    act = {"href": href, "words": "Look at it"}
    if row is None:
        none = "no policy: every container stands as not known"
        return {"name": name, "sealed": None, "opened": None, "end": none, "word": "nobody's", "_act": act}
    return {
        "name": name,
        "sealed": _life(row, "sealed"),
        "opened": _life(row, "opened"),
        "end": END_SHORT[PolicyEnd(row.end)],
        "word": _word(row),
        "_act": act,
    }


def _word(row: AgeingPolicyRow) -> dict[str, Any]:
    return {"lines": ["house policy" if row.house_policy else "published", _grade(row)]}


def _life(row: AgeingPolicyRow, which: str) -> str:
    if PolicyEnd(row.end) is PolicyEnd.PARTS:
        return "as its parts"
    if PolicyEnd(row.end) is PolicyEnd.INDEFINITE:
        return "no end"
    return say_life(getattr(row, f"{which}_months"), getattr(row, f"{which}_days"))


def _grade(row: AgeingPolicyRow) -> str:
    return GRADE_WORDS[Grade(row.grade)] if row.grade in tuple(Grade) else "grade not known"


def material_line(row: AgeingPolicyRow | None, material: Material) -> dict[str, Any]:
    own = Subject(material_id=material.id)
    name = {"href": f"/policies/{own.address}", "words": material.name}
    if row is None:
        none = f"no policy for {KIND_WORDS[material.kind]}"
        if material.kind is MaterialKind.SOLVENT:  # How long solvents keep says nothing of an unknown one.
            none = "nobody told which solvent it is"
        return {"name": name, "by": none, "sealed": None, "opened": None, "word": "nobody's"}
    subject = subject_of(row)
    words = "its own policy" if subject == own else subject.in_words()
    by = {"href": f"/policies/{subject.address}", "words": words}
    lives = {"sealed": _life(row, "sealed"), "opened": _life(row, "opened")}
    return {"name": name, "by": by, **lives, "word": _word(row)}


def told(answer: Mapping[str, Any]) -> str:
    """What the change did on the shelves, in the past tense with numbers."""
    count = answer["containers"]
    said = f"Set how long {answer['for']} keeps. "
    said += f"{count} container{'' if count == 1 else 's'} went through it"
    moved = [
        f"{number} now {'stands' if number == 1 else 'stand'} as {STANDING_WORDS[Standing(code)]}"
        for code, number in sorted(answer["moved"].items())
    ]
    said += f": {', '.join(moved)}." if moved else ": none stands otherwise than before."
    return said + "".join(f" {finding['sentence']}" for finding in answer["findings"])


def general(row: AgeingPolicyRow | None) -> dict[str, str] | None:
    """The wider policy a material without its own goes by."""
    if row is None:
        return None
    subject = subject_of(row)
    return {"words": subject.in_words(), "href": f"/policies/{subject.address}"}


def facts(row: AgeingPolicyRow) -> list[tuple[str, str, str]]:
    """Every figure with whose word it is."""
    policy = policy_of(row)
    whose = f"{'house policy' if policy.house_policy else 'published'}; {_grade(row)}"
    facts = [("The end", END_WORDS[policy.end], whose)]
    if policy.ages:
        facts += [("Sealed", _life(row, "sealed"), whose), ("Opened", _life(row, "opened"), whose)]
        hard = say_life(policy.hard_months, None)
        last = "no last end" if policy.hard_months is None else f"{hard} from its start"
        facts.append(("Never past", last, whose))
    if policy.end is PolicyEnd.RETEST:
        gives = policy.extends_months
        facts.append(("A passed check gives", say_life(gives, None) if gives else "nothing", whose))
        often = policy.max_extensions
        facts.append(("How often", "no limit" if often is None else f"{often} times", whose))
    facts.append(("Whose word", "This shop's own house policy" if policy.house_policy else "Published", ""))
    facts.append(("Source", policy.source or "none named", _grade(row)))
    if row.note:
        facts.append(("What a check looks at", row.note, ""))
    return facts


def history_lines(session: Session, rows: list[AgeingPolicyRow], zone: ZoneInfo) -> list[dict[str, str]]:
    numbers = sorted({row.set_by for row in rows if row.set_by is not None})
    people = dict(session.exec(select(Person.id, Person.name).where(col(Person.id).in_(numbers))).all())
    return [
        {
            "on": day(row.set_at.astimezone(zone).date()),
            "who": people.get(row.set_by, "") if row.set_by else "came with the program",
            "policy": policy_of(row).in_words(),
            "reason": row.reason,
        }
        for row in rows
    ]
