"""What one piece comes to on a wheel over all its turns, and what many pieces come to together."""
