"""By what a look at a container is asked: a jar of shellac in alcohol shows other things than its flakes."""

from __future__ import annotations

from sqlmodel import Session

from service.actions.dissolved_life import as_dissolved
from service.actions.mixes_inside import what_is_in_container
from service.core.dissolved_life import SHELLAC, rows_of_solution
from service.core.materials import MaterialKind
from service.records.materials import Material
from service.records.stock import Container


def key_of_content(session: Session, box: Container, material: Material) -> str | None:
    """By what a look at a container is asked: its material's key; of a jar with dissolved shellac, a cut's.

    A made mix that nobody can trace keeps what its material says.
    """
    if material.known_key or material.kind is not MaterialKind.MADE_MIX:
        return material.known_key
    inside = what_is_in_container(session, box)
    return SHELLAC if SHELLAC in rows_of_solution(as_dissolved(one.material) for one in inside) else None
