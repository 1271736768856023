"""The plan of a study: where licks and comping stand, and their rhythm."""
