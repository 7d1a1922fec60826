"""The stages of one song in order, from a file to fitted turns and the files that a maker holds."""
