"""MusicXML of a Study, by music21."""
