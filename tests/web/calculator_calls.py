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
}  # fmt: skip
