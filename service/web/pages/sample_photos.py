"""`/samples/N/photos`: taking photographs of a board and its target, and handing them out."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from service.actions.judge_sample import Shows, keep_photos, read_photo
from service.actions.remake_photo import remake_photo
from service.core.access import Permission, require
from service.core.findings import Invalid
from service.core.photo_files import ACCEPT, KEPT_AS
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Now
from service.web.fields import Id, Once
from service.web.forms import FormModel, Posted, filled, posted
from service.web.guard import MAX_UPLOAD_BODY
from service.web.pages.recipes import fresh_once
from service.web.render import page
from service.web.sample_words import seen_sample

router = APIRouter(prefix="/samples", include_in_schema=False)


class PhotosForm(FormModel):
    """One press; the photographs are files of it."""

    once: Once


@router.get("/{sample_id}/photos")
def ask(sample_id: Id, request: Request, data: Data, actor: Signed) -> Response:
    """The form; a phone offers its camera."""
    with data.reading() as session:
        seen = seen_sample(session, actor, sample_id)
    return _page(request, seen.sample, filled(once=fresh_once()))


@router.post("/{sample_id}/photos", max_body_size=MAX_UPLOAD_BODY)
def keep(
    sample_id: Id, request: Request, data: Data, now: Now, actor: Signed, settings: Config,
    p: Annotated[Posted[PhotosForm], Depends(posted(PhotosForm, uploads=True))],
) -> Response:  # fmt: skip
    """Make each photograph anew, outside of the transaction, and keep it."""
    require(actor, Permission.BATCHES)
    with data.reading() as session:
        seen = seen_sample(session, actor, sample_id)
    photos = {}
    for shows in Shows:
        file = p.upload(shows.value)
        if file is not None:
            try:
                photos[shows] = remake_photo(file.name, file.content)
            except Invalid as wrong:
                p.refuse(shows.value, wrong.sentence)
    if p.value is not None:
        try:
            with data.writing() as session:
                keep_photos(session, actor, now, p.value.once, sample_id, photos, settings.files)
                many = "photograph is" if len(photos) == 1 else "photographs are"
                flash(session, request, f"The {many} kept. Nothing but the picture was kept of it.")
                return RedirectResponse(f"/samples/{sample_id}", 303)
        except Invalid as wrong:
            p.take(wrong, Shows.BOARD.value)
    return _page(request, seen.sample, p, 422)


def _page(request: Request, sample: Any, p: Posted[Any], status: int = 200) -> Response:
    context = {"p": p, "sample": sample, "accept": ACCEPT}
    return page(request, "samples/photos.html", context, status, section="bench")


@router.get("/{sample_id}/photos/{shows}")
def hand_out(sample_id: Id, shows: Shows, data: Data, actor: Signed, settings: Config) -> Response:
    """The picture as it was made anew; whatever it holds, it runs nowhere here."""
    with data.reading() as session:
        seen = seen_sample(session, actor, sample_id)
        content = read_photo(session, seen.sample, shows, settings.files)
    headers = {
        "Content-Disposition": f'inline; filename="sample-{sample_id}-{shows.value}.jpg"',
        "Content-Security-Policy": "sandbox; default-src 'none'",
        "X-Content-Type-Options": "nosniff",
    }
    return Response(content, media_type=KEPT_AS, headers=headers)
