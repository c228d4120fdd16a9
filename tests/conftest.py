"""What holds for every test."""

from __future__ import annotations

from hypothesis import settings

# Laws are about answers, not about how busy the machine is.
settings.register_profile("laws", deadline=None)
settings.load_profile("laws")
