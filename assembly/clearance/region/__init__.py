"""The region of the drives: the map of clearances, the rules at any setting, what ends the usable range."""
