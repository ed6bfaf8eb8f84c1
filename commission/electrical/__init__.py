"""The laws: numbers in, numbers out.

Every function here takes and gives plain SI numbers and knows nothing of sites, checklists or
screens.  Closed formulas use arithmetic only, so the same code runs on floats, on quantities with
units (which proves its dimensions) and on uncertain numbers.
"""
