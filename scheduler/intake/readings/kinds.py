"""What a column of a logger's file holds, by the words that loggers use.

Words are compared without case and accents. A column that is not read is named for what it is, so
that nobody takes a dew point for a temperature or an alarm for a humidity.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Literal

Unit = Literal["C", "F"]
Role = Literal["moment", "date", "clock", "humidity", "temperature"]

_OTHERS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (name, re.compile(words))
    for name, words in (
        ("dew point", r"dew|taupunkt|tau-punkt|rosee|rocio|rugiada|dauwpunt|frost ?(point|punkt)"),
        ("wet-bulb temperature", r"wet.?bulb|feuchtkugel|feuchttemp|\bwb\b"),
        ("specific humidity", r"specific|spezifisch|mixing|mischung|k?g ?/ ?kg"),
        ("absolute humidity", r"\babs|g ?/ ?m|\bg m-?3"),
        ("vapour pressure", r"vpd|vapou?r|dampfdruck|\b[hk]?pa\b|mbar|pressure|luftdruck"),
        ("felt temperature", r"heat ?index|comfort|feels|humidex|wind|felt"),
        ("alarm or limit", r"alarm|alert|status|flag|limit|grenz|threshold|set.?point|soll|0/1"),
        ("event", r"event|ereignis|attached|detached|button|host|stopped|end of file|started"),
        ("elapsed time", r"elapsed|duration|dauer|interval|laufzeit|uptime|ecoule|\bhrs\b|\(hr?\)"),
        ("lowest or highest value", r"\b(min|max)(imum|imal)?\b(?!ute)"),
        ("battery", r"batt|akku|volt|\(v\)"),
        ("light or gas", r"\blux\b|light|licht|co2|\bppm\b"),
        ("moisture of a material", r"soil|boden|wood|holz|moisture content|surface|oberflach"),
        ("number of the row", r"^#$|^(no|nr|number|nummer|record|index|sample|id|lfd)\b"),
    )
)
_HUMIDITY = re.compile(
    r"humid|humed|feucht|umidit|hygro|vocht|vlhkost|wilgotn|fuktighet|fugtighed"
    r"|\b(rh|rf|r\.h|r\.f|h\.r|hum)\b|(?<![(\[/])\bhr\b|^%( ?r\.?h\.?)?$"
)
_TEMPERATURE = re.compile(
    r"temp|celsius|fahrenheit|^t\b|^(deg )?°?\s*[cf]$|°\s*[cf]\b|\bdeg\.?\s*[cf]\b"
)
_DATE = re.compile(r"\b(date|datum|fecha|data|day|tag)\b")
_CLOCK = re.compile(r"\b(time|zeit|uhrzeit|hora|heure|ora|tijd|clock)\b")
_BOTH = re.compile(
    r"date\W?time|timestamp|zeitstempel|zeitpunkt|datum\W+(uhr)?zeit|fecha\W+hora|moment"
)
_FAHRENHEIT = re.compile(r"fahrenheit|°\s*f\b|\bdeg\.?\s*f\b|[(\[,/_ ]\s*f\s*[)\]]?$|^f$")
_CELSIUS = re.compile(r"celsius|°\s*c\b|\bdeg\.?\s*c\b|[(\[,/_ ]\s*c\s*[)\]]?$|^c$")


def folded(title: str) -> str:
    """Return a title in the form in which it is compared."""
    decomposed = unicodedata.normalize("NFD", title.replace("º", "°").replace("_", " ").casefold())
    return " ".join("".join(s for s in decomposed if not unicodedata.combining(s)).split())


def role_of(title: str) -> Role | None:
    """Return what a column tells, None for one that is not read."""
    text = folded(title)
    if other_kind(title) is not None:
        return None
    if _BOTH.search(text) or (_DATE.search(text) and _CLOCK.search(text)):
        return "moment"
    if _DATE.search(text):
        return "date"
    if _CLOCK.search(text):
        return "clock"
    if _HUMIDITY.search(text):
        return "humidity"
    return "temperature" if _TEMPERATURE.search(text) else None


def other_kind(title: str) -> str | None:
    """Return what a column that is not read holds, None when its title does not say."""
    text = folded(title)
    return next((name for name, words in _OTHERS if words.search(text)), None)


def unit_in(text: str) -> Unit | None:
    """Return the unit that a title or a cell names, None without one."""
    text = folded(text)
    return "F" if _FAHRENHEIT.search(text) else "C" if _CELSIUS.search(text) else None
