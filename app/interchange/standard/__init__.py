"""Frameworks in and out: CASE packages, tables, pasted lines."""
