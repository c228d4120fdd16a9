"""The bench page: today, the boards drawn to scale, the weeks, and one tap for each deed."""

from scheduler.page.bench import deeds, specimens
from scheduler.page.bench.looks import blueprint

__all__ = ["blueprint", "deeds", "specimens"]
