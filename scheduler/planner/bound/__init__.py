"""How short the waiting could be at best: a bound for every plan, whatever was searched."""
