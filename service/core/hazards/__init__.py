"""Hazard classes of materials and mixes by the published rules, and the label they lead to.

Doors: web/api/calc_classify.py, web/api/hazard_answers.py.
"""
