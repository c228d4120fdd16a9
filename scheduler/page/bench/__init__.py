"""The bench page: today, the boards drawn to scale, the weeks, the plan, a form for each deed."""

from scheduler.page.bench import (
    begin,
    deed_pages,
    deeds,
    lessons,
    lists,
    live,
    logger_pages,
    plan_pages,
    printed,
    specimens,
    uploads,
)
from scheduler.page.bench.looks import blueprint

__all__ = [
    "begin",
    "blueprint",
    "deed_pages",
    "deeds",
    "lessons",
    "lists",
    "live",
    "logger_pages",
    "plan_pages",
    "printed",
    "specimens",
    "uploads",
]
