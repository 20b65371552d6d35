"""A first mapping for an export that nobody has described yet, each guess with its reason."""
