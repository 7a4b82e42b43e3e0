"""The class day: who is here, what was done, read, signed off and marked."""
