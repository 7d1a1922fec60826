"""A whole folder of scores on one wheel: found, judged over all cores, kept as they come, written."""
