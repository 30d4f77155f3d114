"""The sweep of a machine: its pairs, joints and rods over the whole range, what would cure a pair, and the verdict."""
