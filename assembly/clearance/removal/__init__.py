"""What must go from one part so that a pair keeps its clearance: what the other sweeps, grown, and its cut."""
