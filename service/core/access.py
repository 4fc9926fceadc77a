"""Who may do what: roles, permissions, and one table that joins them (design section 6).

Doors: records/people.py, web/access_gate.py, web/route_table.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.findings import NotAllowed


class Role(StrEnum):
    """Four roles; a reader is an inspector or other guest, dated and expiring."""

    READER = "reader"
    STUDENT = "student"
    FINISHER = "finisher"
    KEEPER = "keeper"


@dataclass(frozen=True)
class Actor:
    """The person an act is booked to. ``device_id`` is set when they tapped their name on a shared tablet.

    ``token_id`` is set for a script that came with an API token.
    """

    person_id: int
    name: str
    role: Role
    device_id: int | None = None
    token_id: int | None = None


class Permission(StrEnum):
    """One thing a person may do. Every route asks for one or more of these."""

    SEE_HAZARDS = "see-hazards"
    SEE_OWN_JOB = "see-own-job"
    SEE_STORE = "see-store"
    SEE_LOGS = "see-logs"
    SEE_PACK = "see-pack"
    DRAW = "draw"
    RETURN = "return"
    ADD_TO_BATCH = "add-to-batch"
    HAND_IN_RAGS = "hand-in-rags"
    DRAW_KEEPER_ONLY = "draw-keeper-only"
    START_JOB = "start-job"
    CLOSE_JOB = "close-job"
    RECEIVE = "receive"
    DESCRIBE_MATERIAL = "describe-material"
    OPEN = "open"
    MOVE = "move"
    DECANT = "decant"
    COUNT = "count"
    CHECK = "check"
    TELL = "tell"
    LOSS = "loss"
    DISCARD = "discard"
    PRINT_LABELS = "print-labels"
    SEE_PLAN = "see-plan"
    PLAN = "plan"
    RECIPES = "recipes"
    BATCHES = "batches"
    CONTAIN_RAGS = "contain-rags"
    REMOVE_RAGS = "remove-rags"
    NONE_MADE = "none-made"
    REVERSE_OWN_SOON = "reverse-own-soon"
    REVERSE_OWN_DAY = "reverse-own-day"
    REVERSE_ANY = "reverse-any"
    OVERRIDE = "override"
    GIVE_RAGS_ON = "give-rags-on"
    ANSWER_VIOLATION = "answer-violation"
    TAKE_IN_OVER_LIMIT = "take-in-over-limit"
    MATERIAL_FACTS = "material-facts"
    POLICIES = "policies"
    PROFILES = "profiles"
    DO_CHECKS = "do-checks"
    TRAIN = "train"
    SET_CHECKS = "set-checks"
    CLOSE_DAY = "close-day"
    WASTE_HAND_OVER = "waste-hand-over"
    PEOPLE = "people"
    TOKENS = "tokens"


@dataclass(frozen=True)
class Row:
    """One line of the may-do table: what it is in words, and the roles that may."""

    permission: Permission
    words: str
    roles: frozenset[Role]


_ALL: Final = frozenset(Role)
_LOOKERS: Final = frozenset({Role.READER, Role.FINISHER, Role.KEEPER})
_WORKERS: Final = frozenset({Role.STUDENT, Role.FINISHER, Role.KEEPER})
_STAFF: Final = frozenset({Role.FINISHER, Role.KEEPER})
_KEEPERS: Final = frozenset({Role.KEEPER})


def _rows(roles: frozenset[Role], words: Iterable[tuple[Permission, str]]) -> tuple[Row, ...]:
    return tuple(Row(permission, text, roles) for permission, text in words)


TABLE: Final[tuple[Row, ...]] = (
    *_rows(
        _ALL,
        [
            (Permission.SEE_HAZARDS, "see the hazards of a material or mix"),
            (Permission.SEE_OWN_JOB, "see the job they are in"),
        ],
    ),
    *_rows(
        _LOOKERS,
        [
            (Permission.SEE_STORE, "see the store"),
            (Permission.SEE_LOGS, "see the logs"),
            (Permission.SEE_PACK, "see the inspection pack"),
        ],
    ),
    *_rows(
        _WORKERS,
        [
            (Permission.SEE_PLAN, "see the plan of a term"),
            (Permission.DRAW, "draw material in a running job"),
            (Permission.RETURN, "return material in a running job"),
            (Permission.ADD_TO_BATCH, "add to a batch in a running job"),
            (Permission.HAND_IN_RAGS, "hand in rags in a running job"),
            (Permission.TELL, "tell a keeper what they saw in a container, in a running job"),
            (Permission.REVERSE_OWN_SOON, "take back an own entry within two minutes"),
        ],
    ),
    *_rows(
        _STAFF,
        [
            (Permission.DRAW_KEEPER_ONLY, "draw keeper-only material"),
            (Permission.START_JOB, "start a job"),
            (Permission.CLOSE_JOB, "close a job"),
            (Permission.RECEIVE, "take in a delivery"),
            (Permission.DESCRIBE_MATERIAL, "write down a new material, its facts not known"),
            (Permission.OPEN, "open a container"),
            (Permission.MOVE, "move a container"),
            (Permission.DECANT, "decant"),
            (Permission.COUNT, "count or weigh what is there"),
            (Permission.CHECK, "check the condition of a container"),
            (Permission.DO_CHECKS, "make a recurring check"),
            (Permission.TRAIN, "write down who was taught what"),
            (Permission.LOSS, "book a loss"),
            (Permission.DISCARD, "discard material"),
            (Permission.PRINT_LABELS, "print labels"),
            (Permission.PLAN, "plan the jobs of a term and order for it"),
            (Permission.RECIPES, "write recipes"),
            (Permission.BATCHES, "start and finish batches"),
            (Permission.CONTAIN_RAGS, "put rags in a can or drum"),
            (Permission.REMOVE_RAGS, "hand rags over"),
            (Permission.NONE_MADE, "state that an own job made no oily rags"),
            (Permission.REVERSE_OWN_DAY, "reverse an own entry on the same shop day"),
        ],
    ),
    *_rows(
        _KEEPERS,
        [
            (Permission.REVERSE_ANY, "reverse any entry, with a reason"),
            (Permission.OVERRIDE, "override a block for one named draw or batch"),
            (Permission.GIVE_RAGS_ON, "say who owes a rag load"),
            (Permission.ANSWER_VIOLATION, "answer a violation"),
            (Permission.TAKE_IN_OVER_LIMIT, "take in a delivery over a storage limit"),
            (Permission.MATERIAL_FACTS, "set self-heating, classes and density of a material"),
            (Permission.POLICIES, "set ageing policies"),
            (Permission.PROFILES, "set the shop's profile, rooms and places"),
            (Permission.SET_CHECKS, "set what is checked again and again"),
            (Permission.CLOSE_DAY, "close the day"),
            (Permission.WASTE_HAND_OVER, "hand waste over"),
            (Permission.PEOPLE, "look after people and their roles"),
            (Permission.TOKENS, "make and revoke tokens and devices"),
        ],
    ),
)
_BY_PERMISSION: Final = {row.permission: row for row in TABLE}


def may(role: Role, permission: Permission) -> bool:
    """Whether ``role`` may do ``permission``; bounds of time and ownership are judged by each rule itself.

    >>> may(Role.STUDENT, Permission.DRAW), may(Role.STUDENT, Permission.DRAW_KEEPER_ONLY)
    (True, False)
    """
    return role in _BY_PERMISSION[permission].roles


def who_may(permission: Permission) -> str:
    """The roles that may, in words.

    >>> who_may(Permission.OPEN), who_may(Permission.TOKENS)
    ('a finisher or a keeper', 'a keeper')
    """
    names = [f"a {role.value}" for role in Role if may(role, permission)]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def require(actor: Actor, permission: Permission) -> None:
    """Raise `NotAllowed`, saying who could, unless the actor's role may do it.

    >>> require(Actor(1, "Ada", Role.KEEPER), Permission.TOKENS)
    """
    if not may(actor.role, permission):
        words = _BY_PERMISSION[permission].words
        raise NotAllowed(f"As a {actor.role.value} you cannot {words}. Ask {who_may(permission)}.")
