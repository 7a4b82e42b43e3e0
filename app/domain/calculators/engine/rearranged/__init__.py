"""Rearrangements of every calculator's relations, one generated file per calculator.

Written by ``python -m app.domain.calculators.engine.rearranging``; never edited by hand.
"""
