"""Every page and API file, one line each. Its rows stand in ``routes/<subject>.py``.

Write full paths in a router (its own ``prefix`` is fine); it is included flat, without another prefix.
"""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter

from service.web.api import alerts as api_alerts
from service.web.api import as_made as api_as_made
from service.web.api import batch_finish as api_batch_finish
from service.web.api import batches as api_batches
from service.web.api import (
    calc_classify,
    calc_convert,
    calc_coverage,
    calc_cut,
    calc_exposure,
    calc_film,
    calc_flash_point,
    calc_glue_size,
    calc_oxygen,
    calc_rag_deadline,
    calc_settling,
    calc_vapour,
    calc_ventilation,
    calc_voc,
)
from service.web.api import container_acts as api_container_acts
from service.web.api import containers as api_containers
from service.web.api import job_rags as api_job_rags
from service.web.api import jobs as api_jobs
from service.web.api import ledger as api_ledger
from service.web.api import materials as api_materials
from service.web.api import overrides as api_overrides
from service.web.api import places as api_places
from service.web.api import rag_cans as api_rag_cans
from service.web.api import rags as api_rags
from service.web.api import receive as api_receive
from service.web.api import recipes as api_recipes
from service.web.api import rooms as api_rooms
from service.web.api import samples as api_samples
from service.web.api import stock_lists as api_stock_lists
from service.web.api import wipes as api_wipes
from service.web.pages import (
    account,
    air,
    alerts,
    as_made,
    batch_sheet,
    bench,
    check_mix,
    container_counts,
    container_draw,
    container_handling,
    containers,
    devices,
    duties,
    finish_batch,
    hazard_label,
    hazard_mix,
    hazard_store,
    health,
    heat_lesson,
    jar_label,
    job_rags,
    jobs,
    labels,
    ledger,
    material_components,
    material_describe,
    material_facts,
    material_hazards,
    material_sheets,
    materials,
    one_time,
    opposites,
    patterns,
    people,
    places,
    policies,
    problems,
    rag_answers,
    rag_cans,
    rag_leaves,
    rag_log,
    rags,
    receive,
    recipe_batches,
    recipe_hazards,
    recipes,
    room_air,
    sample_photos,
    samples,
    shop,
    sign_in,
    spill,
    start_batch,
    stock_list,
    stock_take,
    tables_out,
    tap,
    today,
    warnings,
    wipes,
    words,
    write_recipe,
)

# A request is held against them in this order, so what a bench calls all day comes first.
ROUTERS: Final[tuple[APIRouter, ...]] = (
    api_container_acts.router,
    api_containers.router,
    container_draw.router,
    health.router,
    problems.router,
    sign_in.router,
    one_time.router,
    opposites.router,
    tap.router,
    account.router,
    people.router,
    devices.router,
    shop.router,
    spill.router,
    words.router,
    alerts.router,
    api_alerts.router,
    policies.router,
    jobs.router,
    job_rags.router,
    # The fixed addresses under /rags come before /rags/{load_id}.
    rag_log.router,
    rag_answers.router,
    duties.router,
    wipes.router,
    rag_cans.router,
    rag_leaves.router,
    heat_lesson.router,
    rags.router,
    api_jobs.router,
    api_job_rags.router,
    api_rags.router,
    api_overrides.router,
    api_wipes.router,
    api_rag_cans.router,
    materials.router,
    material_describe.router,
    material_facts.router,
    material_hazards.router,
    material_components.router,
    hazard_store.router,
    hazard_mix.router,
    air.router,
    hazard_label.router,
    jar_label.router,
    material_sheets.router,
    places.router,
    room_air.router,
    # The fixed addresses of stock-take and list come before /receive/{material_id}.
    stock_take.router,
    stock_list.router,
    receive.router,
    labels.router,
    api_materials.router,
    api_places.router,
    api_rooms.router,
    api_receive.router,
    api_stock_lists.router,
    containers.router,
    container_counts.router,
    container_handling.router,
    ledger.router,
    tables_out.router,
    api_ledger.router,
    # /recipes/new comes before /recipes/{recipe_id}.
    write_recipe.router,
    recipes.router,
    recipe_hazards.router,
    check_mix.router,
    start_batch.router,
    bench.router,
    batch_sheet.router,
    finish_batch.router,
    as_made.router,
    recipe_batches.router,
    samples.router,
    sample_photos.router,
    api_recipes.router,
    api_batches.router,
    api_batch_finish.router,
    api_as_made.router,
    api_samples.router,
    patterns.router,
    warnings.router,
    calc_classify.router,
    calc_flash_point.router,
    calc_convert.router,
    calc_rag_deadline.router,
    calc_vapour.router,
    calc_ventilation.router,
    calc_exposure.router,
    calc_voc.router,
    calc_film.router,
    calc_cut.router,
    calc_settling.router,
    calc_coverage.router,
    calc_glue_size.router,
    calc_oxygen.router,
    today.router,
)
