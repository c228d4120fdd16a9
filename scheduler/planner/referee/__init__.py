"""The referee: it judges every plan from the problem alone, with code of its own."""
