"""`/words`: what each word means here, one meaning each."""

from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import Response

from service.web.render import page

router = APIRouter(include_in_schema=False)

WORDS: Final[tuple[tuple[str, tuple[tuple[str, str], ...]], ...]] = (
    ("What stands on the shelf", (
        ("substance", "One chemical with a CAS number and published properties, such as toluene."),
        ("material", "Something the shop buys or makes: a dry pigment, a colour in oil or japan, a dye, a "
         "binder, a drier, a solvent, a resin, a glue or size, a ready-made finish, another chemical, a "
         "consumable, or a mix of its own. Tap water is not stocked."),
        ("container", "One tub, tube, can or jar that stands somewhere. It has a shelf code and a capacity."),
        ("place", "Where a container or a rag load is: building, room, cabinet, shelf, bench, rag can, "
         "outside drum, waste drum, kit, vehicle, or a customer's site."),
        ("size", "Always glue size. How much a can holds is its capacity."),
        ("maker", "The firm that made a material and wrote its safety data sheet."),
    )),
    ("What happens to it", (
        ("movement", "One line of the ledger that changes an amount. Lines are added, never altered."),
        ("event", "A fact that changes no amount: opened, closed, moved, checked, relabelled, emptied."),
        ("draw", "To take material out of a container."),
        ("decant", "To pour from one container into another. The new one keeps the age of the old."),
        ("reversal", "A line that takes back an earlier one and names it. Both stay readable."),
        ("late entry", "Something written down more than 15 minutes after it was done. It carries a reason."),
        ("recipe", "The proportions of a mix."),
        ("batch", "One making of a recipe."),
        ("addition", "One amount put into a batch."),
        ("job", "One stretch of work with a leader, a place, people, a start and an end: a class, a sample, "
         "shop work, or work at a customer's."),
    )),
    ("What next term needs", (
        ("term", "A stretch of weeks that is planned and ordered for, with its free days."),
        ("planned job", "A recipe for so many people on its days of a term. It is no job yet: nothing is "
         "drawn for it, and no batch stands for a day of it before one is made."),
        ("there by the book", "What a planned day takes is in the store, in date on that day, and not "
         "promised before. It says nothing about what is really in the can."),
        ("there if what is ordered comes", "The same, but a part of it is only ordered, and must come in "
         "time and in date."),
        ("pack", "A size that a material is sold in, exactly."),
        ("order", "What was ordered of one supplier. It counts from the day after it is expected, and not "
         "while it is late or nobody knows its day."),
        ("least on the shelf", "What is to be left of a material when a term ends."),
    )),
    ("How a container stands", (
        ("in date", "Every date that is known lies ahead. It says nothing about what is inside."),
        ("look first", "A date is near, or something about it calls for a look before use."),
        ("past", "A date has gone by. It may be discarded; it may not be drawn from."),
        ("not known", "A fact is missing. Not known never counts as none, in date, harmless or enough."),
        ("second clock", "How much of the oil in an opened tin the air shut in with it can have spent. An "
         "estimate: it moves a tin up the list of what goes first, and never a date."),
        ("use first", "What to reach for before anything else of its kind."),
    )),
    ("Oily rags", (
        ("self-heating", "Of a material whose rags can catch fire by themselves as it dries: vegetable and "
         "fish oils, oil varnish, alkyd, oil stain, colours in oil or japan, and any mix of them. A material "
         "whose binder is not known counts as self-heating."),
        ("rag load", "The oily rags, wipes, strainers, steel wool and sanding dust of one job."),
        ("contain", "To put rags where they cannot heat up: in a lidded metal can, or under water in one."),
        ("hand-over", "To give rags or waste to somebody who takes them away, by name."),
        ("witnessed head", "The number and check sum of the last line of the rag log, kept outside the "
         "database, for example on a printed day sheet. With it a cut or rewritten log shows."),
    )),
    ("What the rules answer", (
        ("finding", "One reason, in one sentence, with where it comes from. It stops, says that something "
         "is not known, asks to look out, or just notes."),
        ("check result", "All findings about one question, the stopping ones first."),
        ("duty", "Something a named person owes by a time."),
        ("override", "A keeper lets one named draw or batch through a block, with a written reason."),
        ("ventilation class", "1 general, 2 local exhaust, 3 containment, 4 specialist advice, after "
         "published control banding; or not known."),
        ("hazard law", "The rules under which classes and labels are read: the UN's GHS itself, the EU's "
         "CLP, or hazard communication in the US."),
    )),
    ("People", (
        ("reader", "Looks at store and logs until a last day: an inspector, a guest."),
        ("student", "Draws, returns, adds to a batch and hands in rags inside a running job."),
        ("finisher", "Also runs jobs, receives, counts, makes batches and puts rags away."),
        ("keeper", "Also overrides, sets the facts of materials, people and settings."),
        ("tablet", "A shared device on the wall. It books nothing by itself: a name is tapped, with a PIN."),
    )),
)


@router.get("/words")
def words(request: Request) -> Response:
    """The glossary."""
    return page(request, "words.html", {"groups": WORDS}, section="words")
