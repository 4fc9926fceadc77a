"""The names that the design gives to calculators: what may be asked, and what is told."""

from __future__ import annotations

from typing import Final

CALCULATORS: Final[dict[tuple[str, str], tuple[set[str], set[str]]]] = {
    ("post", "/api/calc/convert"): (
        {"amount", "to", "system", "state", "density_g_ml", "bulk_density_g_ml", "molar_mass_g_mol"},
        {"value", "unit", "exact", "findings", "complete", "data_used"},
    ),
    ("post", "/api/calc/exposure"): (
        {"measured"},
        {"twa", "index", "index_is_at_least", "findings", "complete", "data_used"},
    ),
    ("post", "/api/calc/voc"): (
        {"components", "jurisdiction", "product_category", "base", "container_ml", "thinning"},
        {"actual_g_l", "regulatory_g_l", "eu_g_l", "exempt_g_l", "water_g_l", "limits", "findings",
         "complete", "data_used"},
    ),
    ("post", "/api/calc/film"): (
        {"pigments", "pastes", "binders", "solvents", "oil_density_g_ml"},
        {"pvc", "cpvc", "reduced_pvc", "density_g_ml", "mass_solids_percent", "volume_solids_percent",
         "pigment_mass_percent", "reading", "findings", "complete", "data_used"},
    ),
    ("post", "/api/calc/cut"): (
        {"flakes", "alcohol", "from_lb_gal", "to_lb_gal", "convention"},
        {"cut_lb_gal", "alcohol_parts_per_part", "volume", "solids_percent", "findings", "complete",
         "data_used"},
    ),
    ("post", "/api/calc/settling"): (
        {"particle_um", "pigment_density_kg_m3", "liquid_density_kg_m3", "viscosity_mpa_s"},
        {"mm_per_h", "findings", "complete", "data_used"},
    ),
    ("post", "/api/calc/coverage"): (
        {"area_m2", "rate_m2_l"}, {"litres", "findings", "complete", "data_used"},
    ),
    ("post", "/api/calc/storage"): (
        {"rule_set", "place", "items", "pairs"},
        {"items", "limits", "pairs", "findings", "complete", "data_used"},
    ),
    ("post", "/api/calc/waste"): (
        {"jurisdiction", "months_kg", "acute_kg", "on_site_kg", "streams", "start", "today", "haul_miles"},
        {"category", "codes", "deadline", "overdue", "cap_exceeded", "findings", "complete", "data_used"},
    ),
    ("post", "/api/calc/oxygen"): (
        {"head_space_l", "capacity_l", "left_l", "temperature_c", "pressure_pa", "openings", "each_opening",
         "uptake_fraction", "uptake_range", "free_surface_cm2", "oil_g", "kept_at_c"},
        {"oxygen_g", "oil_spent_g", "skin_um", "oil_spent_range_g", "skin_range_um", "known_oil_spent_g",
         "share_of_oil", "share_left", "times_as_fast", "each_opening", "findings", "complete", "data_used"},
    ),
}  # fmt: skip
