"""What an override lets through, in words, as pages and the day sheet say it."""

from sqlmodel import Session

from service.core.shelf_codes import show_code
from service.records.mixing import Recipe
from service.records.rags import Override
from service.records.stock import Container


def override_words(container: Container | None, recipe: Recipe | None) -> str:
    """The one draw or batch.

    >>> override_words(None, Recipe(id=4, name="Oil stain"))
    'batch of recipe 4 (Oil stain)'
    """
    if container is not None:
        return f"draw of {show_code(container.code)}"
    return f"batch of recipe {recipe.id} ({recipe.name})" if recipe else "nothing"


def what_is_let_through(session: Session, row: Override) -> str:
    """The one draw or batch that a stored override names."""
    container = session.get(Container, row.container_id) if row.container_id else None
    recipe = session.get(Recipe, row.recipe_id) if row.recipe_id else None
    return override_words(container, recipe)
