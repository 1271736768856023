"""Why rules leave nothing: the fewest that cannot hold together."""
