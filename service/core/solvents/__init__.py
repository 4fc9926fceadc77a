"""Solvents and air: what a mix gives off, when it can burn, and what a room does with it.

Doors: web/api/calc_flash_point.py, calc_vapour.py, calc_voc.py; actions/judge_air.py.
"""
