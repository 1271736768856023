"""Files of others (MusicXML, Standard MIDI) read into a Study; ``files.read_file`` is the way in."""
