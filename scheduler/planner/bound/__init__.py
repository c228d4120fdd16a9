"""A lower bound on the weighted waiting of every plan, whatever the search found."""
