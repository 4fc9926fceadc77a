"""How much a surface takes, and how thick the wet film is.

Doors: web/api/calc_coverage.py.

The published range for a semitransparent oil stain: 4.9 to 9.8 m²/l on smooth wood, 2.4 to 4.9 on
saw-textured or weathered wood (USDA Wood Handbook). For furniture nobody of rank published one.
"""

from __future__ import annotations

from service.core.film_ranges import Span


def litres_for(area_m2: Span, rate_m2_l: Span, coats: int = 1) -> Span:
    """Litres, least and most; have the most at hand.

    >>> [round(end, 2) for end in litres_for((12, 12), (4.9, 9.8))]
    [1.22, 2.45]
    """
    return area_m2[0] * coats / rate_m2_l[1], area_m2[1] * coats / rate_m2_l[0]


def wet_film_um(rate_m2_l: Span) -> Span:
    """Micrometres of one coat if none of it soaks in, thinnest and thickest.

    >>> wet_film_um((10, 20))
    (50.0, 100.0)
    """
    return 1000 / rate_m2_l[1], 1000 / rate_m2_l[0]


def dry_film_um(rate_m2_l: Span, volume_solids_percent: Span) -> Span:
    """Micrometres that stay of one coat if none of it soaks in; wood takes most of a stain.

    >>> dry_film_um((10, 10), (50, 50))
    (50.0, 50.0)
    """
    wet = wet_film_um(rate_m2_l)
    return wet[0] * volume_solids_percent[0] / 100, wet[1] * volume_solids_percent[1] / 100
