"""From bytes to text; what is not Unicode is read only where one old code page makes sense."""

from __future__ import annotations

import re
import unicodedata

from scheduler.table.grid import TableFault

SAVE_AS_UTF_8 = 'Save the file again as "CSV UTF-8"'

_OLD = {
    "cp1252": "Windows (cp1252)",
    "mac_roman": "Mac Roman",
    "cp850": "DOS (cp850)",
}
_USUAL = frozenset("äöüßÄÖÜé°µ±×–½²\u00a0")
_WRITTEN = _USUAL | frozenset("èêëàâáçñíóúôîïûåøæœÅØÆÉ¼—’‘“”„«»…§€³")
"""The signs beyond ASCII that people who label insects in Western Europe write; `_USUAL` are those
they write most."""
_UNLIKELY = re.compile(
    r"[a-zäöüß][ÄÖÜÉÅØÆ]|[^\W\d_][°±×½¼²³§€«„“”…][^\W\d_]"
    r"|[0-9]\u00a0[-./:,;]|[-./:]\u00a0[0-9]"
)
"""A capital in the middle of a word, a sign between two letters, or a non-breaking space within a
date or a number: the code page is wrong, or a byte is broken."""

_NO_SIGN = {"cp850": b"\xff"}
"""The non-breaking space of that code page, which nobody types: a text with it is broken."""


def decoded(raw: bytes) -> tuple[str, str]:
    """Return the text and how it was encoded; line ends are \\n, a byte order mark is gone.

    Raises TableFault for bytes that are no text, or that several code pages could mean.
    """
    text, name = _decoded(raw)
    if "\0" in text:
        row = text.count("\n", 0, text.index("\0")) + 1
        raise TableFault(row, "is not a text", "Give a CSV file or an .xlsx workbook")
    for sign in set(text):
        # Beyond U+FFFF Unicode gains new signs every year, so one without a category is no fault.
        if "\x7f" < sign <= "\uffff" and unicodedata.category(sign) in ("Cn", "Co"):
            row = text.count("\n", 0, text.index(sign)) + 1
            reason = f"has a sign that is no letter (U+{ord(sign):04X})"
            raise TableFault(row, reason, SAVE_AS_UTF_8)
    return text.replace("\r\n", "\n").replace("\r", "\n"), name


def _decoded(raw: bytes) -> tuple[str, str]:
    for mark, name in (
        (b"\xef\xbb\xbf", "utf-8"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if raw.startswith(mark):
            return _strict(raw, "utf-8-sig" if name == "utf-8" else name), name.upper()
    head = raw[:2000]
    for place, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        if len(head) > 7 and head[place::2].count(0) > 0.7 * len(head[place::2]):
            return _strict(raw, name), "UTF-16"
    try:
        return raw.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError as error:
        return _old_text(raw, error)


def _strict(raw: bytes, encoding: str) -> str:
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError:
        reason = f"begins as {encoding.upper()} but is not"
        raise TableFault(None, reason, SAVE_AS_UTF_8) from None


def _old_text(raw: bytes, error: UnicodeDecodeError) -> tuple[str, str]:
    """Return the text in the one code page that makes every letter one that people write."""
    pages = [(_page(raw, encoding), name) for encoding, name in _OLD.items()]
    texts = [(text, name) for text, name in pages if text is not None]
    fitting: list[tuple[str, str]] = []
    for letters in (_USUAL, _WRITTEN):
        fitting = fitting or [
            (text, name)
            for text, name in texts
            if all(sign in letters for sign in set(text) if sign > "\x7f")
        ]
    if len(fitting) == 1:
        return fitting[0]
    row = raw.count(b"\n", 0, error.start) + 1
    reason = f"is not UTF-8 text (byte 0x{raw[error.start]:02X})"
    if fitting:
        reason += f", and could be {' or '.join(name for _, name in fitting)}"
    raise TableFault(row, reason, SAVE_AS_UTF_8)


def _page(raw: bytes, encoding: str) -> str | None:
    """Return the text in an old code page, None where that gives no plausible words."""
    if encoding in _NO_SIGN and _NO_SIGN[encoding] in raw:
        return None
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        return None
    return None if _UNLIKELY.search(text) else text
