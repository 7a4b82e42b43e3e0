"""Alignment, coverage and its approval."""
