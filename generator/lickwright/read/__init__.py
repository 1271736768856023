"""Files of others (MusicXML, Standard MIDI) read into a Study, and what would mend a lick that breaks rules.

Words: *sounds* are what a file says; *columns* are the notes struck together; *placing* finds strings, frets and fingers.

Doors: ``files`` (the way in), ``instead`` (what would keep the rules).
"""
