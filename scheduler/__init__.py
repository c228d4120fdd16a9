"""Plan, remember and answer for insects drying on spreading boards."""
