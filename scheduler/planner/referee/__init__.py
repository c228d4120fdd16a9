"""The referee: judges every plan from the problem alone, by code of its own."""
