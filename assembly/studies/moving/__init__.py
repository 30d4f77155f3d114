"""A machine to be shown moving: poses to go between, parts with fewer triangles, and the two together."""
