"""What a section plans and what becomes of it: plans, events, and what they show."""
