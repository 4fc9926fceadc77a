"""Reading recipes with their versions and lines, kept stock checks, and batches with what went into them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import func
from sqlmodel import Session, col, delete, select

from service.core.additions import HowAdded, taken_back_id
from service.core.findings import NotFound
from service.core.ledger import MovementKind
from service.records.materials import Material
from service.records.mixing import (
    Addition,
    Allocation,
    Batch,
    BatchState,
    KeptCheck,
    Recipe,
    RecipeLineRow,
    RecipeVersion,
)
from service.records.people import Person
from service.records.stock import Container, Movement

CHECK_KEPT_FOR = timedelta(days=7)
"""A check older than this is made again rather than started from."""


def the_recipe(session: Session, recipe_id: int, *, lock: bool = False) -> Recipe:
    """One recipe; ``lock`` to change it.

    Raises:
        NotFound: there is none with this number.
    """
    query = select(Recipe).where(col(Recipe.id) == recipe_id)
    if lock:
        query = query.with_for_update().execution_options(populate_existing=True)
    recipe = session.exec(query).one_or_none()
    if recipe is None:
        raise NotFound(f"There is no recipe number {recipe_id}.")
    return recipe


def all_recipes(
    session: Session, *, active: bool = True, limit: int = 1000, offset: int = 0
) -> Sequence[Recipe]:
    """Recipes in use (or put away) by name, at most ``limit`` of them."""
    wanted = select(Recipe).where(col(Recipe.active).is_(active))
    return session.exec(wanted.order_by(col(Recipe.name), col(Recipe.id)).limit(limit).offset(offset)).all()


def versions_of(session: Session, recipe_id: int) -> Sequence[tuple[RecipeVersion, Person]]:
    """Every version of a recipe with who wrote it, the newest first."""
    return session.exec(
        select(RecipeVersion, Person)
        .join(Person, col(Person.id) == col(RecipeVersion.person_id))
        .where(col(RecipeVersion.recipe_id) == recipe_id)
        .order_by(col(RecipeVersion.number).desc())
    ).all()


def the_version(session: Session, recipe: Recipe, number: int | None = None) -> RecipeVersion:
    """One version of a recipe, the present one if no number is given.

    Raises:
        NotFound: the recipe has no such version.
    """
    wanted = recipe.current_version if number is None else number
    version = session.exec(
        select(RecipeVersion).where(
            col(RecipeVersion.recipe_id) == recipe.id, col(RecipeVersion.number) == wanted
        )
    ).one_or_none()
    if version is None:
        raise NotFound(f"The recipe {recipe.name} has no version {wanted}.")
    return version


def lines_of(session: Session, version_id: int) -> Sequence[tuple[RecipeLineRow, Material]]:
    """The lines of a version with their materials, in the order of addition."""
    return session.exec(
        select(RecipeLineRow, Material)
        .join(Material, col(Material.id) == col(RecipeLineRow.material_id))
        .where(col(RecipeLineRow.version_id) == version_id)
        .order_by(col(RecipeLineRow.position))
    ).all()


def choosable_materials(session: Session, limit: int = 2000) -> Sequence[Material]:
    """The materials a line may name, by name: in use, tap water and made mixes too."""
    return session.exec(
        select(Material)
        .where(col(Material.active).is_(True))
        .order_by(func.lower(col(Material.name)), col(Material.id))
        .limit(limit)
    ).all()


def kept_check(session: Session, check_id: int) -> KeptCheck:
    """One kept check.

    Raises:
        NotFound: there is none with this number, or it was thrown away.
    """
    kept = session.get(KeptCheck, check_id)
    if kept is None:
        raise NotFound("This check is no longer kept. Check the stock again.")
    return kept


def check_by_fingerprint(session: Session, fingerprint: str, recipe_id: int | None = None) -> KeptCheck:
    """The newest kept check with this fingerprint (of one recipe, if it is named).

    Raises:
        NotFound: no check with it is kept.
    """
    query = select(KeptCheck).where(col(KeptCheck.fingerprint) == fingerprint)
    if recipe_id is not None:
        query = query.where(col(KeptCheck.recipe_id) == recipe_id)
    kept = session.exec(query.order_by(col(KeptCheck.id).desc())).first()
    if kept is None:
        raise NotFound("No stock check with this fingerprint is kept. Check the stock again.")
    return kept


def drop_old_checks(session: Session, now: datetime) -> None:
    """Throw away what nobody started from in time."""
    session.exec(delete(KeptCheck).where(col(KeptCheck.made_at) < now - CHECK_KEPT_FOR))


def the_batch(session: Session, batch_id: int, *, lock: bool = False) -> Batch:
    """One batch; ``lock`` to change it: the second of two writers waits and sees what the first did.

    Raises:
        NotFound: there is none with this number.
    """
    query = select(Batch).where(col(Batch.id) == batch_id)
    if lock:
        query = query.with_for_update().execution_options(populate_existing=True)
    batch = session.exec(query).one_or_none()
    if batch is None:
        raise NotFound(f"There is no batch number {batch_id}.", "batch")
    return batch


def batches_in(
    session: Session, states: Iterable[BatchState], limit: int = 50, offset: int = 0
) -> Sequence[tuple[Batch, Recipe]]:
    """Batches in these states with their recipes, the newest first."""
    return session.exec(
        select(Batch, Recipe)
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Batch.state).in_(list(states)))
        .order_by(col(Batch.id).desc())
        .limit(limit)
        .offset(offset)
    ).all()


def allocations_of(session: Session, batch_id: int) -> Sequence[Allocation]:
    """What a batch takes from which container, in the order in which it was allocated."""
    return session.exec(
        select(Allocation).where(col(Allocation.batch_id) == batch_id).order_by(col(Allocation.id))
    ).all()


@dataclass(frozen=True)
class Added:
    """One addition with its material, and the movement and container it came from (none for tap water)."""

    row: Addition
    material: Material
    person: Person
    movement: Movement | None
    container: Container | None
    reversed: bool


def additions_of(session: Session, batch_id: int) -> list[Added]:
    """Everything that was put into a batch, oldest first; what was taken back is marked, not left out."""
    rows = session.exec(
        select(Addition, Material, Person)
        .join(Material, col(Material.id) == col(Addition.material_id))
        .join(Person, col(Person.id) == col(Addition.person_id))
        .where(col(Addition.batch_id) == batch_id)
        .order_by(col(Addition.id))
    ).all()
    from_shelf = {
        movement.id: (movement, container)
        for movement, container in session.exec(
            select(Movement, Container)
            .join(Container, col(Container.id) == col(Movement.container_id))
            .where(col(Movement.id).in_([a.movement_id for a, _, _ in rows if a.movement_id is not None]))
        ).all()
    }
    undone = _undone(session, list(from_shelf))
    # Tap water has no movement that could be reversed: a row of its own takes it back.
    backs = [row for row, _, _ in rows if row.how == HowAdded.TAKEN_BACK]
    poured_back = {taken_back_id(row.written) for row in backs}
    found = []
    for row, material, person in rows:
        if row.how == HowAdded.TAKEN_BACK:
            continue
        movement, container = from_shelf.get(row.movement_id, (None, None))
        gone = row.movement_id in undone if movement is not None else row.id in poured_back
        found.append(Added(row, material, person, movement, container, gone))
    return found


def batches_not_measured(session: Session, container_id: int) -> list[int]:
    """The batches into which something of a container went that nobody measured; not what was taken back."""
    rows = session.exec(
        select(Addition.batch_id, Addition.movement_id)
        .join(Movement, col(Movement.id) == col(Addition.movement_id))
        .where(
            col(Movement.container_id) == container_id, col(Addition.how) == HowAdded.NOT_MEASURED.value
        )
        .order_by(col(Addition.id))
    ).all()
    undone = _undone(session, [number for _, number in rows])
    return list(dict.fromkeys(batch for batch, number in rows if number not in undone))


def _undone(session: Session, movement_ids: Sequence[int | None]) -> set[int | None]:
    """Which of these movements a reversal took back."""
    query = select(Movement.reverses_id).where(col(Movement.reverses_id).in_(list(movement_ids)))
    return set(session.exec(query).all())


def returns_of(session: Session, batch_id: int) -> list[tuple[Movement, Material]]:
    """What was put back from a batch into a container and stands."""
    rows = session.exec(
        select(Movement, Material)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Movement.batch_id) == batch_id, col(Movement.kind) == MovementKind.RETURN)
        .order_by(col(Movement.id))
    ).all()
    undone = _undone(session, [m.id for m, _ in rows])
    return [(m, material) for m, material in rows if m.id not in undone]


def jars_of(session: Session, batch_id: int) -> Sequence[Container]:
    """The containers filled from a batch, in their order."""
    return session.exec(
        select(Container).where(col(Container.made_by_batch_id) == batch_id).order_by(col(Container.id))
    ).all()


def materials_behind(session: Session, material_id: int) -> list[Material]:
    """What goes into a made mix: the lines of its recipes as they stand, and what went into batches."""
    written = (
        select(RecipeLineRow.material_id)
        .join(RecipeVersion, col(RecipeVersion.id) == col(RecipeLineRow.version_id))
        .join(Recipe, col(Recipe.id) == col(RecipeVersion.recipe_id))
        .where(
            col(Recipe.material_id) == material_id, col(RecipeVersion.number) == col(Recipe.current_version)
        )
    )
    put_in = (
        select(Addition.material_id)
        .join(Batch, col(Batch.id) == col(Addition.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Recipe.material_id) == material_id)
    )
    wanted = select(Material).where(col(Material.id).in_(written) | col(Material.id).in_(put_in))
    return list(session.exec(wanted.order_by(col(Material.id))).all())
