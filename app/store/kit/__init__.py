"""What is needed, on the rack, cut, set out and handed over."""
