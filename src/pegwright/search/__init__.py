"""The transposition and start that put the greatest weight of a song in, over all its turns."""
