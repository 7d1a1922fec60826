"""What is done to a score before it is fitted: ornaments, swing, lateness, texture, parts, bars, turns."""
