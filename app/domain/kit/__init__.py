"""What to buy, cut, set out and hand over."""
