"""How every figure that has a rule changes with every number of the file, at the setting that governs it."""
