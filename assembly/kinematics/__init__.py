"""How a machine moves: joints as equations, loops, postures, and bounds on motion between postures."""
