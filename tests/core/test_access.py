"""The may-do table of design section 6, written out again by hand and compared cell by cell."""

from __future__ import annotations

import pytest

from service.core.access import TABLE, Actor, Permission, Role, may, require
from service.core.findings import NotAllowed

P = Permission
#                      reader student finisher keeper
BY_HAND = {
    (True, True, True, True): {P.SEE_HAZARDS, P.SEE_OWN_JOB},
    (True, False, True, True): {P.SEE_STORE, P.SEE_LOGS, P.SEE_PACK},
    (False, True, True, True): {
        P.DRAW, P.RETURN, P.ADD_TO_BATCH, P.HAND_IN_RAGS, P.REVERSE_OWN_SOON, P.TELL, P.SEE_PLAN,
    },
    (False, False, True, True): {
        P.DRAW_KEEPER_ONLY, P.START_JOB, P.CLOSE_JOB, P.RECEIVE, P.DESCRIBE_MATERIAL, P.OPEN, P.MOVE,
        P.DECANT, P.COUNT, P.CHECK, P.LOSS, P.DISCARD, P.PRINT_LABELS, P.RECIPES, P.BATCHES,
        P.CONTAIN_RAGS, P.REMOVE_RAGS, P.NONE_MADE, P.REVERSE_OWN_DAY, P.PLAN,
        P.DO_CHECKS, P.TRAIN,
    },
    (False, False, False, True): {
        P.REVERSE_ANY, P.OVERRIDE, P.GIVE_RAGS_ON, P.ANSWER_VIOLATION, P.TAKE_IN_OVER_LIMIT,
        P.MATERIAL_FACTS, P.POLICIES, P.PROFILES, P.SET_CHECKS,
        P.CLOSE_DAY, P.WASTE_HAND_OVER, P.PEOPLE, P.TOKENS,
    },
}  # fmt: skip


def test_every_permission_has_exactly_one_row() -> None:
    assert sorted(row.permission for row in TABLE) == sorted(Permission)
    assert sum(len(group) for group in BY_HAND.values()) == len(Permission)


@pytest.mark.parametrize("permission", list(Permission))
def test_cell_by_cell(permission: Permission) -> None:
    expected = next(cells for cells, group in BY_HAND.items() if permission in group)
    assert tuple(may(role, permission) for role in Role) == expected


@pytest.mark.parametrize("permission", list(Permission))
@pytest.mark.parametrize("role", list(Role))
def test_require_says_who_could(role: Role, permission: Permission) -> None:
    actor = Actor(1, "Ada", role)
    if may(role, permission):
        require(actor, permission)
    else:
        with pytest.raises(NotAllowed, match=r"Ask .*a keeper\.$"):
            require(actor, permission)


def test_a_keeper_may_everything() -> None:
    assert all(may(Role.KEEPER, permission) for permission in Permission)
