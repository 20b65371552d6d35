"""What the diagnosis takes in: candidate parts, training visits, jobs about one fault, and what texts name."""
