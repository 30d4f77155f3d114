"""What tolerances leave of every figure."""
