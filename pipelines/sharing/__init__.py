"""A set of the dealer's rows for somebody else, without the names."""
