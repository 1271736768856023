"""Standard MIDI files of a Study."""
