"""What every calculator runs on: quantities read, relations solved, results drawn."""
