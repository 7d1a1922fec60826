"""ABC, Humdrum **kern and MEI, turned into MusicXML by music21."""
