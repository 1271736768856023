"""Tablature as text."""
