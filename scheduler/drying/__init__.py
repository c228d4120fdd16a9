"""How long a body takes: fit, softening, the drying law, dates and the answer."""
