"""Finding a plan: a first schedule, the search over it, bounds, repair."""
