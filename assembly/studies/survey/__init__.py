"""What was measured on the real machine: which numbers it has, which readings contradict, and what to measure next."""
