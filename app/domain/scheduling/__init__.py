"""The planner's core: a problem and a schedule as values, solved, checked and explained."""
