"""From a number of the report back to the rows and files that it rests on."""
