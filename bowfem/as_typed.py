"""Quantities as makers type them, turned into how they are spelled here."""

from __future__ import annotations

import re

#: Marks that look alike, and fractions of one sign.
_ALIKE = str.maketrans(
    {
        **dict.fromkeys("\u201c\u201d\u201e\u2033", '"'),
        **dict.fromkeys("\u2018\u2019\u2032", "'"),
        **dict.fromkeys("\u2212\u2013", "-"),
        **dict.fromkeys("\u00a0\u2009\u202f", " "),
        "\u00bd": " 1/2",
        "\u00bc": " 1/4",
        "\u00be": " 3/4",
        "\u215b": " 1/8",
        "\u215c": " 3/8",
        "\u215d": " 5/8",
        "\u215e": " 7/8",
    }
)
#: Units as words and marks; read back, the unit of each.
_WORDS = {
    "in": ("inches", "inch", "in.", "ins", '"', "''"),
    "ft": ("feet", "foot", "ft.", "'"),
    "mm": ("millimetres", "millimeters", "mm."),
    "cm": ("centimetres", "centimeters", "cm."),
    "m": ("metres", "meters"),
    "lb": ("pounds", "pound", "lbs", "lb.", "lbs.", "#"),
    "gr": ("grains", "grain", "gn", "gr."),
    "g": ("grams", "gram", "gramme", "grammes"),
    "N": ("newtons", "newton"),
    "deg": ("degrees", "degree", "degs", "\u00b0"),
    "C": ("\u00b0C", "deg C", "\u00b0 C"),
    "F": ("\u00b0F", "deg F", "\u00b0 F"),
    "%": ("percent", "per cent"),
    "s": ("seconds", "second", "sec", "secs"),
    "min": ("minutes", "minute", "mins"),
    "h": ("hours", "hour", "hrs", "hr"),
    "weeks": ("week",),
}
MEANT = {word: unit for unit, words in _WORDS.items() for word in words}
_MARKED_FEET = re.compile(r"([0-9]{1,6}) *(?:'|feet|foot|ft\.?) *([0-9].*)")
_DECIMAL_COMMA = re.compile(r"([+-]?[0-9]{1,40}),([0-9]{1,2}|[0-9]{4,40})(?![0-9,])(.*)")


def as_meant(text: str, kind: str) -> str:
    """Return a quantity as it is spelled here, from how a maker may have typed it."""
    body = text.translate(_ALIKE).strip()
    if comma := _DECIMAL_COMMA.fullmatch(body):
        body = f"{comma[1]}.{comma[2]}{comma[3]}"
    if kind == "length" and (marked := _MARKED_FEET.fullmatch(body)):
        rest = marked[2].strip()
        number = rest.rstrip("inches.\"' ")
        if MEANT.get(rest[len(number) :].strip(), rest[len(number) :].strip()) == "in":
            body = f"{marked[1]} ft {number} in"
    return body


def hint(body: str, kind: str) -> str:
    """Say what is probably wrong with a quantity that cannot be read; empty where unknown."""
    if kind == "length" and "amo" in body.lower():
        return "; AMO is said apart, as measure = 'amo'"
    if re.search(r"[0-9],[0-9]{3}", body):
        return "; no comma, a point for decimals"
    return ""
