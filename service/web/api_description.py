"""What /api/openapi.json says beyond the routes: the token, the problem documents, and a body to start from.

A status that any call may be answered with is described here once, not in each route.
"""

from __future__ import annotations

import copy
from functools import cache
from typing import Any, Final

from fastapi import FastAPI

from service.web.problems import PROBLEM_JSON

_FINDING: Final[dict[str, Any]] = {
    "type": "object",
    "properties": {
        "severity": {"type": "string", "enum": ["stop", "warn", "unknown", "note"]},
        "code": {"type": "string"},
        "sentence": {"type": "string"},
        "source": {"type": "string"},
        "about": {"type": "string"},
    },
    "required": ["severity", "code", "sentence", "source"],
}
_READING: Final[dict[str, Any]] = {
    "type": "object",
    "properties": {"text": {"type": "string"}, "words": {"type": "string"}},
    "required": ["text", "words"],
}
PROBLEM: Final[dict[str, Any]] = {
    "title": "Problem",
    "description": "An RFC 9457 problem document.",
    "type": "object",
    "properties": {
        "type": {
            "type": "string",
            "description": "/problems/ and its name; of a 409: refused, stale, once-reused or conflict",
            "examples": ["/problems/refused"],
        },
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string", "description": "A sentence for people"},
        "errors": {
            "type": "object",
            "additionalProperties": {"type": "string"},
            "description": "A sentence for each field that cannot be used",
        },
        "readings": {
            "type": "array",
            "items": _READING,
            "description": "What an ambiguous amount may mean; send the `text` of the one that is meant",
        },
        "findings": {"type": "array", "items": _FINDING, "description": "Why a rule refused it"},
    },
    "required": ["type", "title", "status", "detail"],
}

_ALWAYS: Final[dict[str, str]] = {
    "400": "The request cannot be taken apart: broken encoding, nested too deep, a wrong Host",
    "401": "No token, or one that is not known here",
    "403": "The role of the token, or of the named person, does not cover it",
    "404": "There is no such thing, or it is not theirs to see",
    "422": "A field cannot be used (`errors`), or an amount can be read in several ways (`readings`)",
    "429": "Too many tries; `Retry-After` says when to come again",
    "503": "The book is busy or its disk is full, nothing was saved; `Retry-After` says when to try again",
}
_POSTED: Final[dict[str, str]] = {
    "409": "Refused by a rule (`findings`), stale, or `once` came with another body; `type` says which",
    "413": "The body is too large",
}
BODIES: Final[dict[str, dict[str, Any]]] = {
    "/api/places": {"once": "place-1", "name": "Oily waste can", "kind": "rag-can", "lid": "yes"},
    "/api/materials": {"once": "materials-1", "name": "Raw umber", "kind": "dry-pigment"},
    "/api/containers": {"once": "delivery-1", "material": 1, "amount": "250 g", "count": 12, "place": 2},
    "/api/containers/{code}/vessel": {"once": "vessel-1", "vessel": "metal"},
    "/api/storage/rules": {"once": "rules-1", "version": 1, "rule_sets": ["osha-1910.106", "ifc-2018"]},
    "/api/places/{place_id}/storage": {
        "once": "place-storage-1", "storey": 1, "sprinklered": "no",
        "floor_area": {"value": 900, "unit": "ft2"},
        "ambient_max": {"value": 95, "unit": "F"},
    },
    "/api/materials/{material_id}/storage": {
        "once": "material-storage-1", "flash_point": {"value": 104, "unit": "F"},
        "boiling_point": {"value": 300, "unit": "F"}, "groups": [], "source": "sheet of the maker, section 9",
    },
    "/api/containers/{code}/opened": {"once": "opened-1", "opened_on": "2026-03-12"},
    "/api/containers/{code}/closed": {"once": "closed-1"},
    "/api/containers/{code}/draws": {"once": "draw-1", "amount": "1 1/2 tsp", "job": 1, "person": 3},
    "/api/containers/{code}/returns": {"once": "return-1", "amount": "20 g"},
    "/api/containers/{code}/counts": {"once": "count-1", "amount": "180 g"},
    "/api/containers/{code}/losses": {"once": "loss-1", "loss": "spilled", "amount": "2 tsp"},
    "/api/containers/{code}/discards": {"once": "discard-1", "destination": "waste-drum", "place": 4},
    "/api/containers/{code}/moves": {"once": "move-1", "place": 2},
    "/api/containers/{code}/decants": {"once": "decant-1", "amount": "100 ml", "capacity": "125 ml"},
    "/api/containers/{code}/checks": {"once": "look-1", "outcome": "passed"},
    "/api/containers/{code}/told": {"once": "told-1", "words": "Lumps at the bottom", "job": 1},
    "/api/movements/{movement_id}/reversal": {"once": "back-1", "reason": "Wrong can scanned"},
    "/api/recipes": {
        "once": "recipe-1",
        "name": "Walnut stain",
        "makes": "500 ml",
        "lines": [{"material": 1, "amount": "2 tsp"}, {"material": 2, "amount": "1 to 1 1/2 fl oz"}],
    },
    "/api/recipes/{recipe_id}/check": {"amount": "20 heads x 60 ml + 10 %"},
    "/api/batches": {"once": "batch-1", "fingerprint": "0" * 64, "job": 1},
    "/api/batches/{batch_id}/additions": {"once": "addition-1", "material": 1, "amount": "1/4 tsp"},
    "/api/batches/{batch_id}/additions/{addition_id}/undo": {
        "once": "undo-1", "reason": "Wrong can scanned", "was_in": "never",
    },
    "/api/batches/{batch_id}/finish": {"once": "finish-1", "jars": [{"amount": "250 ml", "place": 2}]},
    "/api/batches/{batch_id}/rest": {"once": "rest-1", "went_to": "on-the-work"},
    "/api/batches/{batch_id}/balance": {
        "once": "balance-1", "jars": [{"amount": "250 ml"}], "made": "about 300 ml", "loss": "20 ml",
    },
    "/api/batches/{batch_id}/as-made": {"once": "as-made-1", "note": "Matches the old door"},
    "/api/samples": {
        "once": "sample-1", "target": "The door of the old cupboard", "wood": "ash", "grit": "P180",
        "sealed": "no", "coats": 2, "job": 1,
    },
    "/api/samples/{sample_id}/verdict": {"once": "verdict-1", "verdict": "close", "note": "A little red"},
    "/api/terms": {
        "once": "term-1", "name": "Autumn", "first_day": "2026-09-01", "last_day": "2026-12-18",
        "country": "DE", "part": "SN",
    },
    "/api/terms/{term_id}": {
        "once": "term-2", "version": 1, "name": "Autumn", "first_day": "2026-09-01",
        "last_day": "2026-12-11", "weekdays": [0, 1, 2, 3, 4], "country": "DE", "part": "SN", "breaks": True,
        "free": [{"first": "2026-10-02", "last": "2026-10-02", "name": "Works day"}], "extra": [],
    },
    "/api/terms/{term_id}/jobs": {
        "once": "planned-1", "name": "Staining", "recipe": 1, "heads": 20, "each": "60 ml",
        "spare_percent": 10, "first": "2026-09-07", "repeat": "weekly",
    },
    "/api/planned-jobs/{planned_id}": {
        "once": "change-1", "version": 1, "name": "Staining", "recipe": 1, "heads": 21, "each": "60 ml",
        "spare_percent": 10,
    },
    "/api/planned-dates/{date_id}/move": {"once": "move-1", "version": 1, "day": "2026-09-09"},
    "/api/planned-jobs/{planned_id}/dates": {"once": "day-1", "day": "2026-09-08"},
    "/api/planned-dates/{date_id}/drop": {"once": "drop-1", "version": 1},
    "/api/planned-dates/{date_id}/take-up": {"once": "take-up-1", "version": 2},
    "/api/planned-dates/{date_id}/batch": {"once": "stands-1", "version": 1, "batch": 1},
    "/api/planned-dates/{date_id}/check": {},
    "/api/materials/{material_id}/packs": {
        "once": "pack-1", "amount": "500 ml", "price": "8.50", "supplier": "Kilnwood Supplies",
        "lead_days": 4,
    },
    "/api/materials/{material_id}/least": {"once": "least-1", "amount": "500 ml"},
    "/api/orders": {"once": "order-1", "lines": [{"pack": 1, "count": 2, "expected_on": "2026-09-04"}]},
    "/api/suppliers/{supplier_id}": {"once": "supplier-1", "before": "North Yard", "name": "North Yard & Co"},
    "/api/orders/lines/{line_id}": {"once": "line-1", "state": "no-more", "version": 1},
    "/api/recurring-checks": {"once": "check-1", "known": "rag-can-lids", "owner": "Ines Bakker"},
    "/api/recurring-checks/{recurring_id}/entries": {"once": "entry-1", "result": "fine"},
    "/api/recurring-checks/{recurring_id}/owner": {"once": "owner-1", "owner": 1, "version": 1},
    "/api/recurring-checks/{recurring_id}/end": {
        "once": "end-1", "reason": "The can was thrown away today", "version": 1,
    },
    "/api/recurring-check-entries/{entry_id}/reversal": {
        "once": "entry-back-1", "reason": "Pressed by mistake",
    },
    "/api/waste-drums": {
        "once": "drum-1", "name": "Drum 3", "stream": "Spent thinner with oil stain",
        "hazards": "Ignitable", "area": "satellite", "acute": "no", "capacity": "55 US gal", "liquid": "yes",
    },
    "/api/waste-drums/{drum_id}/entries": {
        "once": "drum-entry-1", "step": "put-in", "what": "Rinsings of the brushes", "amount": "2 l",
    },
    "/api/waste-drums/{drum_id}/hand-over": {
        "once": "drum-left-1", "receiver": "Millrace Treatment", "transporter": "Millrace Carriers",
        "paper": "A-1017", "mass": "180 kg",
    },
    "/api/waste-drums/{drum_id}/discards": {"once": "drum-sort-1", "movements": [1]},
    "/api/waste-drum-entries/{drum_entry_id}/reversal": {
        "once": "drum-back-1", "reason": "It went into the other drum",
    },
    "/api/waste-site": {
        "once": "site-1", "category": "SQG", "haul_miles": 60,
        "reason": "Weighed every month since March, no acute waste",
    },
    "/api/training": {
        "once": "training-1", "people": [2, 3], "groups": ["rags"], "topic": "Where oily rags go and why",
        "taught_by": "Ines Bakker",
    },
    "/api/training/{training_id}/reversal": {"once": "training-back-1", "reason": "They were not there"},
    "/api/jobs": {"once": "job-1", "name": "Evening class", "kind": "class", "leader": "Ines Bakker"},
    "/api/jobs/{job_id}/close": {"once": "close-1"},
    "/api/rag-loads/{load_id}/entries": {
        "once": "rags-1", "step": "in-can", "can": "K7Q F2B", "witness": "Piet Maas",
    },
    "/api/overrides": {
        "once": "override-1", "for": "draw of K7Q F2B", "reason": "The last coat must go on wet in wet",
    },
    "/api/calc/classify": {
        "regime": "eu-clp",
        "ingredients": [
            {"name": "white spirit", "percent": 40, "hazards": ["Flam. Liq. 3", "Asp. Tox. 1"]},
            {"name": "linseed oil", "percent": 60, "hazards": []},
        ],
        "mixture": {"flash_point_c": 42, "kinematic_viscosity_40c": 18},
    },
    "/api/calc/label": {"regime": "eu-clp", "hazards": ["Flam. Liq. 3", "Asp. Tox. 1"], "volume_ml": 250},
    "/api/calc/convert": {"amount": "1 1/2 pint", "to": "ml", "system": "us"},
    "/api/calc/exposure": {"measured": [{"name": "acetone", "ppm": 120, "hours": 8}]},
    "/api/calc/flash-point": {
        "components": [
            {"cas": "64742-88-7", "flash_point_c": 62, "volume_ml": 900},
            {"name": "acetone", "volume_ml": 100},
        ],
    },
    "/api/calc/vapour": {
        "components": [{"name": "acetone", "volume_ml": 50}],
        "evaporation_min": 30,
        "room": {"volume_m3": 40, "airflow_m3_h": 80, "mixing_factor": 3},
    },
    "/api/calc/ventilation-class": {
        "name": "acetone", "h_codes": ["H225", "H319", "H336", "EUH066"], "amount_l": 0.5,
        "operating_temperature_c": 20,
    },
    "/api/calc/voc": {
        "components": [
            {"name": "linseed oil", "volume_fraction": 0.35, "density_g_ml": 0.93, "volatile": False},
            {"name": "acetone", "volume_fraction": 0.3},
            {"name": "Stoddard solvent", "volume_fraction": 0.35, "density_g_ml": 0.78},
        ],
        "jurisdiction": "us-federal",
        "product_category": "stains",
    },
    "/api/calc/film": {
        "pastes": [
            {"name": "raw umber", "mass_g": 100, "pigment_percent": 50, "oil_percent": 50,
             "oil_density_g_ml": 0.93},
        ],
        "binders": [
            {"name": "boiled oil", "mass_g": 50, "density_g_ml": 0.94, "non_volatile_percent": 100},
        ],
        "solvents": [{"name": "spirit", "mass_g": 200, "density_g_ml": 0.78}],
        "driers": [{"mass_g": 0.5, "metal": "cobalt", "metal_percent": 6}],
    },
    "/api/calc/cut": {"flakes": "2 lb", "alcohol": "1 gal", "system": "us"},
    "/api/calc/settling": {
        "particle_um": 3, "pigment_density_kg_m3": 3200, "liquid_density_kg_m3": 780, "viscosity_mpa_s": 1,
    },
    "/api/calc/coverage": {"area_m2": 12, "rate_m2_l": [4.9, 9.8], "coats": 1},
    "/api/calc/glue-size": {"glue": "white-glue", "wanted": 300},
    "/api/calc/oxygen": {
        "capacity_l": 1, "each_opening": [{"left_l": 0.9}, {"left_l": 0.4}], "free_surface_cm2": 75,
        "oil_g": 370,
    },
    "/api/calc/self-heating": {
        "critical": [{"r_m": 0.05, "temperature_c": 140}, {"r_m": 1.5, "temperature_c": 50}], "at_r_m": 0.1,
    },
    "/api/calc/storage": {
        "rule_sets": ["osha-1910.106", "ifc-2018"],
        "place": {"kind": "room", "storey": 1, "sprinklered": False, "approved_cabinets": True},
        "items": [
            {"name": "white spirit", "flash_point": {"value": 104, "unit": "F"}, "container": "metal",
             "capacity": {"value": 5, "unit": "gal"}, "volume": {"value": 4, "unit": "gal"}},
        ],
    },
    "/api/calc/waste": {
        "jurisdiction": "us", "months_kg": {"2026-01": 80, "2026-02": 250}, "acute_kg": 0, "on_site_kg": 330,
        "start": "2026-02-01", "today": "2026-03-10", "haul_miles": 40,
        "streams": [{"name": "spent thinner", "form": "liquid", "flash_point": {"value": 104, "unit": "F"},
                     "spent": True, "composition": [{"name": "mineral spirits", "percent": 92},
                                                      {"cas": "108-88-3", "percent": 8}]}],
    },
    "/api/calc/rag-deadline": {"time_zone": "Europe/Paris", "used_until": "2026-03-10T16:00"},
}  # fmt: skip
"""A body for each call that people make first; numbers and codes are to be replaced by one's own."""


def install(app: FastAPI) -> None:
    """Let ``app`` describe itself with all of this."""
    plain = app.openapi

    @cache
    def whole() -> dict[str, Any]:
        return completed(copy.deepcopy(plain()))

    setattr(app, "openapi", whole)  # noqa: B010 - an instance attribute, on purpose


def completed(said: dict[str, Any]) -> dict[str, Any]:
    """The framework's description, completed in place."""
    parts = said.setdefault("components", {})
    parts.setdefault("securitySchemes", {})["token"] = {
        "type": "http", "scheme": "bearer", "description": "A token made by `umberkeep token new`",
    }  # fmt: skip
    schemas = parts.setdefault("schemas", {})
    schemas["Problem"] = PROBLEM
    for name in ("HTTPValidationError", "ValidationError"):  # the framework's own; no call answers with them
        schemas.pop(name, None)
    for path, calls in said["paths"].items():
        if path.startswith("/api/"):
            for method, call in calls.items():
                _complete(path, method, call)
    return said


def _complete(path: str, method: str, call: dict[str, Any]) -> None:
    call["security"] = [{"token": []}]
    told = _ALWAYS | (_POSTED if method == "post" else {})
    kept = {status: answer for status, answer in call["responses"].items() if status.startswith("2")}
    content = {PROBLEM_JSON: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    kept |= {status: {"description": words, "content": content} for status, words in sorted(told.items())}
    wait = {"Retry-After": {"description": "Seconds", "schema": {"type": "string"}}}
    kept |= {status: kept[status] | {"headers": wait} for status in ("429", "503")}
    call["responses"] = kept
    if method == "post" and path in BODIES:
        call["requestBody"]["content"]["application/json"]["example"] = BODIES[path]
