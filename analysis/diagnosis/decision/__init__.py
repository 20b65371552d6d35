"""From chances to an order of work: plans, their cost, and the rows of the list."""
