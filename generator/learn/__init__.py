"""Weights and rhythms of a rule file estimated from licks, so that new licks carry their accent."""
