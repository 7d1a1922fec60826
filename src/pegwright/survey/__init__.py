"""A whole folder of scores on one wheel: listed, judged on all cores, kept as each is done, written."""
