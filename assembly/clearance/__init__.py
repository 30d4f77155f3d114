"""How near parts come: pairs, distances, overlap, and the sweep that proves clearance over the range."""
