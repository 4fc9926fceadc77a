"""`/alerts`: what wants attention, worst first, each with the one thing to do."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from service.actions.list_alerts import MOST_DAYS, list_alerts
from service.actions.manage_channels import reach_findings
from service.core.access import Actor, Permission, may
from service.core.alert_pages import page_of
from service.core.alerts import SOON_DAYS, Alert, AlertKind
from service.web.access_gate import Signed
from service.web.deps import Config, Data, Now
from service.web.render import day, page

router = APIRouter(include_in_schema=False)

SPANS = ((0, "today"), (14, "14 days"), (30, "30 days"), (90, "90 days"))


class Show(StrEnum):
    """What the page is narrowed to."""

    ALL = "all"
    MINE = "mine"
    CONTAINERS = "containers"
    DUTIES = "duties"
    FACTS = "facts"
    ORDERS = "orders"


_KINDS = {
    Show.CONTAINERS: (AlertKind.PAST, AlertKind.NOT_KNOWN, AlertKind.LOOK_FIRST, AlertKind.SOON),
    Show.DUTIES: (AlertKind.DUTY_OVERDUE, AlertKind.DUTY, AlertKind.CHANNEL),
    Show.FACTS: (AlertKind.MISSING_FACT,),
    Show.ORDERS: (AlertKind.ORDER,),
}
_SHOW_WORDS = (
    (Show.ALL, "everything"), (Show.MINE, "what I see to"), (Show.CONTAINERS, "containers"),
    (Show.DUTIES, "rags and duties"), (Show.FACTS, "missing facts"),
    (Show.ORDERS, "what to order"),
)  # fmt: skip
_DUE_WORDS = {
    AlertKind.PAST: "Since", AlertKind.NOT_KNOWN: "", AlertKind.MISSING_FACT: "Since",
    AlertKind.CHANNEL: "", AlertKind.ORDER: "", AlertKind.LOOK_FIRST: "In date until", AlertKind.SOON: "On",
}  # fmt: skip


@dataclass(frozen=True)
class Shown:
    """One alert as the page shows it; without ``button`` the person may only look."""

    severity: str
    standing: str
    sentence: str
    what_to_do: str
    owner: str
    due: str
    href: str
    button: str


@dataclass(frozen=True)
class Way:
    """One filter link."""

    words: str
    href: str
    here: bool


@router.get("/alerts")
def alerts(
    request: Request,
    data: Data,
    config: Config,
    now: Now,
    actor: Signed,
    show: Show = Show.ALL,
    days: Annotated[int, Query(ge=0, le=MOST_DAYS)] = SOON_DAYS,
) -> Response:
    """The list of alerts."""
    with data.reading() as session:
        found = list_alerts(session, now, days, reach=reach_findings(session, now, config))
    kept = [one for one in found if _is_shown(one, show, actor)]
    context = {
        "alerts": [shown(one, actor) for one in kept],
        "hidden": len(found) - len(kept),
        "all_href": f"/alerts?days={days}",
        "shows": [Way(words, f"/alerts?show={s.value}&days={days}", s is show) for s, words in _SHOW_WORDS],
        "spans": [Way(words, f"/alerts?show={show.value}&days={n}", n == days) for n, words in SPANS],
        "days": days,
    }
    return page(request, "alerts/list.html", context, section="alerts")


def _is_shown(one: Alert, show: Show, actor: Actor) -> bool:
    if show is Show.MINE:
        return actor.person_id in one.people
    return show is Show.ALL or one.kind in _KINDS[show]


def shown(one: Alert, actor: Actor) -> Shown:
    """An alert with its one button."""
    href, button, needs = _way(one)
    standings = (AlertKind.PAST, AlertKind.NOT_KNOWN, AlertKind.LOOK_FIRST)
    words = "Due" if one.kind in (AlertKind.DUTY_OVERDUE, AlertKind.DUTY) else _DUE_WORDS[one.kind]
    return Shown(
        severity=one.severity.value,
        standing=one.kind.value if one.kind in standings else "",
        sentence=one.sentence,
        what_to_do=one.what_to_do,
        owner=one.owner,
        due=f"{words} {day(one.due)}" if words else "",
        href=href,
        button=button if may(actor.role, needs) else "",
    )


def _way(one: Alert) -> tuple[str, str, Permission]:
    """Where its button leads, what stands on it, and who may press it."""
    what, href = one.ref.partition(" ")[0], page_of(one)
    if what == "rag-load":
        return href, "Record the rags", Permission.HAND_IN_RAGS
    if what == "material":
        return href, "Write it down", Permission.DESCRIBE_MATERIAL
    if what == "container":
        if one.leave:
            return href, "Read its page", Permission.SEE_STORE
        if one.kind is AlertKind.PAST and not one.check:
            return href, "Discard it", Permission.DISCARD
        return href, "Look and record it", Permission.CHECK
    if what == "term":
        return href, "To the order list", Permission.SEE_PLAN
    if what == "recurring-check":
        return href, "Check it now", Permission.DO_CHECKS
    if what == "warnings":
        return href, "To the warnings", Permission.PROFILES
    return href, "Go to the duties", Permission.SEE_STORE
