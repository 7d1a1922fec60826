"""Puts the stages of a plate in order: its plan, then every file of it."""
