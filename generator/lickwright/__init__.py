"""lickwright writes short blues-guitar studies from rule files, by exact constraint solving."""

__version__ = "0.2.0"
