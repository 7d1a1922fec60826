"""From a score to the pins of a programming wheel."""

__version__ = "0.1.0"
