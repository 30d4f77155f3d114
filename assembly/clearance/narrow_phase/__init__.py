"""What a pair is at one posture: its solids, how far apart they are or how deep in each other, and what shows it."""
