"""MusicXML files."""
