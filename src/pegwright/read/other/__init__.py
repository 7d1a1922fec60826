"""ABC, Humdrum **kern and MEI, read through music21 and the MusicXML reader."""
