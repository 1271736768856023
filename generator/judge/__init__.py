"""What judges a finished study: the rules once more, and measures. It never asks the solver."""
