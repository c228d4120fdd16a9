"""The pages of the bench: today, boards drawn to scale, weeks, plan, and a form for each deed."""

from scheduler.page.bench import (
    at_work,
    begin,
    bringing_back,
    deed_pages,
    deeds,
    elsewhere,
    lessons,
    lists,
    live,
    logger_pages,
    people,
    plan_pages,
    printed,
    publish_pages,
    reference,
    specimens,
    uploads,
)
from scheduler.page.bench.looks import blueprint

__all__ = [
    "at_work",
    "begin",
    "blueprint",
    "bringing_back",
    "deed_pages",
    "deeds",
    "elsewhere",
    "lessons",
    "lists",
    "live",
    "logger_pages",
    "people",
    "plan_pages",
    "printed",
    "publish_pages",
    "reference",
    "specimens",
    "uploads",
]
