"""What would help: changes to a song, to one note, and additions to the wheel."""
