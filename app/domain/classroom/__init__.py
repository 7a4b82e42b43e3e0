"""The class: lists, teams, readings, and the air coats dry in."""
