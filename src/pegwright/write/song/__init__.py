"""What a song is made of."""
