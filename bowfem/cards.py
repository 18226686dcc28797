"""Short tables for notebooks: what an object is, a row a figure."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape


def card(title: str, rows: Mapping[str, object]) -> str:
    """Return a table as HTML; numbers with four digits.

    Parameters
    ----------
    title : str
        What the object is.
    rows : mapping of str to object
        What is told of it.
    """
    told = (
        f"<tr><th>{escape(name)}</th><td>{escape(_text(value))}</td></tr>"
        for name, value in rows.items()
    )
    return f"<table><caption>{escape(title)}</caption>{''.join(told)}</table>"


def _text(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)
