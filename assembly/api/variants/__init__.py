"""What ``swingroom variants`` is made of: what is asked for, one variant as a task, rows that are kept, the run."""
