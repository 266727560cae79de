"""Many sets: which are alike, and the index of them all as a page, a table and a database."""
