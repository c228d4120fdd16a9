"""Plan, remember and answer for insects drying on spreading boards."""

__version__ = "0.1.0"
