"""Readers: a score file becomes a `Score`."""
