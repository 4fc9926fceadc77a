"""`/spill`: spill or fire. Anybody may read it: nobody looks for a password then."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from service.actions.set_up_shop import emergency_numbers
from service.core.access import Permission, may
from service.records.shop import ShopProfile
from service.web.access_gate import Seen
from service.web.deps import Data
from service.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/spill")
def spill(request: Request, data: Data, seen: Seen) -> Response:
    """The shop's own words and numbers, then the general cautions."""
    with data.reading() as session:
        shop = session.get(ShopProfile, 1)
        numbers = emergency_numbers(session)
    edits = seen.actor is not None and may(seen.actor.role, Permission.PROFILES) and seen.device_id is None
    context = {"text": shop.emergency_text.strip() if shop else "", "numbers": numbers, "edits": edits}
    return page(request, "spill.html", context, section="spill")
