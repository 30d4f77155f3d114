"""What stops, bolts and contacts can take: closed formulas on plain numbers, each with its source."""
