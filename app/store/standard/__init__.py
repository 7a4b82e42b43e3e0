"""Frameworks, alignments, look-up, and what is covered where."""
