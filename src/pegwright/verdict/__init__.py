"""The verdict on one piece on a wheel over all its turns, and the tally of many pieces."""
