"""Pin maps corrected by hand: edits and their inverse, the rules that a map breaks, and where its pins are."""
