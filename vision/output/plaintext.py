"""Text from people and files, made safe to show: nothing hides and nothing steers."""

STEERING = {*map(chr, range(0x202A, 0x202F)), *map(chr, range(0x2066, 0x206A))}
"""Explicit embeddings, overrides and isolates (Unicode Standard Annex 9, 2.1 to 2.6):
a name must not turn the text around it, nor show letters in another order."""

REPLACEMENT = "\ufffd"


def clean(text: str) -> str:
    r"""Drop direction controls and replace what no page may hold.

    >>> clean("a\x00b\u202ec")
    'a�bc'
    """
    if text.isprintable():
        return text  # none of what is looked for below is printable
    kept = (letter for letter in text if letter not in STEERING)
    return "".join(_shown(letter) for letter in kept)


def _shown(letter: str) -> str:
    if letter in "\n\r\t":
        return " "
    code = ord(letter)
    control = code < 0x20 or 0x7F <= code < 0xA0  # noqa: PLR2004
    surrogate = 0xD800 <= code < 0xE000  # noqa: PLR2004
    unassigned = code & 0xFFFE == 0xFFFE  # noqa: PLR2004
    return REPLACEMENT if control or surrogate or unassigned else letter
