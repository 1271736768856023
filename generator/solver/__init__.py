"""The solver: the study's plan, grips, the rule graph, lattices over it, and the chain of a whole chorus."""
