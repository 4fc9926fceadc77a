"""`/api/places`: rooms, cabinets, shelves, benches, rag cans and drums."""

from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field, computed_field

from service.actions.arrange_places import FARTHEST_MM, LARGEST_ML, PlaceAsked, add_place
from service.core.materials import Unknown
from service.core.shelf_codes import show_code
from service.records.material_search import active_places, all_places, path_of
from service.records.places import PlaceKind
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PlaceRef, PostModel, acting_for, place_number
from service.web.deps import Data, Now, Secrets
from service.web.fields import Name, Note, Offset, PageSize

router = APIRouter(prefix="/api/places", tags=["places"], responses=PROBLEMS)


class PlaceIn(PostModel):
    """A place. What is not known of a rag can or drum counts as not met."""

    name: Name
    kind: PlaceKind
    parent: PlaceRef | None = Field(None, description="Number, code or name of the place it stands in")
    metal: Unknown = Unknown.NOT_KNOWN
    lid: Unknown = Unknown.NOT_KNOWN
    self_closing: Unknown = Unknown.NOT_KNOWN
    listed: Unknown = Field(Unknown.NOT_KNOWN, description="A listed oily-waste can")
    detached: Unknown = Field(Unknown.NOT_KNOWN, description="Of an outside drum: apart from the building")
    floor_cannot_burn: Unknown = Field(Unknown.NOT_KNOWN, description="What a can or drum stands on")
    distance_mm: int | None = Field(
        None, ge=0, le=FARTHEST_MM, description="From a can or drum to what can burn, walls included"
    )
    capacity_ml: int | None = Field(
        None, ge=1, le=LARGEST_ML, description="What a can or drum holds, as its maker says"
    )
    outdoors: bool = False
    note: Note = ""


class PlaceMade(BaseModel):
    place: int
    code: str
    shown: str = Field(description="The code in two groups, as on the label")
    name: str
    version: int
    findings: list[FindingOut]

    @computed_field  # type: ignore[prop-decorator]
    @property
    def id(self) -> int:
        """The same as ``place``."""
        return self.place


class PlaceOut(BaseModel):
    id: int
    code: str
    shown: str
    name: str
    path: str = Field(description="With what it stands in, smallest first")
    kind: PlaceKind
    parent: int | None
    metal: Unknown
    lid: Unknown
    self_closing: Unknown
    listed: Unknown
    detached: Unknown
    floor_cannot_burn: Unknown
    distance_mm: int | None
    capacity_ml: int | None
    outdoors: bool
    version: int


class PlaceList(BaseModel):
    places: list[PlaceOut]
    offset: Annotated[int, Field(ge=0)]


@router.post("", status_code=201, summary="Write down a place")
def make_place(asked: PlaceIn, data: Data, now: Now, actor: Signed, secrets: Secrets) -> PlaceMade:
    """The place gets a code of its own, as containers do. Keepers only."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        parent = place_number(session, asked.parent, "parent")
        wanted = PlaceAsked(
            asked.once,
            asked.name,
            asked.kind,
            parent,
            asked.metal,
            asked.lid,
            asked.self_closing,
            asked.listed,
            asked.detached,
            asked.outdoors,
            asked.note,
            happened_at=asked.happened_at,
            late_reason=asked.late_reason,
            floor_cannot_burn=asked.floor_cannot_burn,
            distance_mm=asked.distance_mm,
            capacity_ml=asked.capacity_ml,
        )
        return PlaceMade(**add_place(session, person, now, wanted, secrets).result)


@router.get("", summary="Places in use")
def list_places(data: Data, actor: Signed, limit: PageSize = 100, offset: Offset = 0) -> PlaceList:
    """In order of their names."""
    with data.reading() as session:
        known = all_places(session)
        rows = [
            PlaceOut(
                id=place.id or 0,
                code=place.code,
                shown=show_code(place.code),
                name=place.name,
                path=path_of(place, known),
                kind=place.kind,
                parent=place.parent_id,
                metal=place.metal,
                lid=place.lid,
                self_closing=place.self_closing,
                listed=place.listed,
                detached=place.detached,
                floor_cannot_burn=place.floor_cannot_burn,
                distance_mm=place.distance_mm,
                capacity_ml=place.capacity_ml,
                outdoors=place.outdoors,
                version=place.version,
            )
            for place in active_places(session, limit, offset)
        ]
    return PlaceList(places=rows, offset=offset)
