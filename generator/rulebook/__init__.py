"""Rule files: what they may say, how they are read, and the rules they give."""
