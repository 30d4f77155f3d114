"""Static load cases: at one setting, and the worst over the range."""
