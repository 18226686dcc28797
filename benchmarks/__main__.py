"""Tabulate the cases: ``python -m benchmarks [words] [--json FILE] [--picture FILE] [--readme]``.

Words pick the cases whose file name contains one of them, and show every quantity of these, not
only the one that agrees least. Without words, figures of published bows and a list of what no case
computes (`benchmarks/left_out.py`) follow.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path

from benchmarks import left_out, published
from benchmarks.cases import load
from benchmarks.table import BRIEF, HEAD, SOURCES, Result, lines, measured, show

README = Path(__file__).parents[1] / "README.md"
PICTURE = Path(__file__).parent / "errors.png"
BEGIN, END = "<!-- table: benchmarks -->\n", "\n\n"


def tell(results: Sequence[Result], *, every: bool) -> None:
    """Print the tables."""
    print("Quantities" if every else "Each case's quantity that agrees least with its source")
    show(HEAD, [row for result in results for row in result.rows(every=every)])
    print("\nWhere the expected values come from")
    show(SOURCES, [result.source_row for result in results])
    if every:
        return
    print("\nBows in print, rerun")
    show(published.HEAD, [figure.row for figure in published.figures()])
    print("\nNot computed")
    tables = {f"{case} {name}": reason for (case, name), reason in left_out.TABLES.items()}
    show(("references.json", "why"), [*tables.items(), *left_out.PARTS.items()])


def into_readme(text: str, results: Sequence[Result]) -> str:
    """Put the brief table in README's text, in place of the one there."""
    before, mark, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not mark or not end:
        raise ValueError(f"README has no place for the table: {BEGIN.strip()}")
    return before + mark + "\n".join(lines(BRIEF, [r.brief for r in results])) + end + after


def main(words: Sequence[str]) -> int:
    """Print the tables; return how many cases miss their tolerance or order."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("words", nargs="*", help="parts of names of cases")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write all figures as JSON")
    parser.add_argument("--picture", type=Path, metavar="FILE", help="draw the errors")
    parser.add_argument("--readme", action="store_true", help="renew README's table and picture")
    asked = parser.parse_args(words)
    if asked.readme and asked.words:
        parser.error("--readme needs all cases: leave out the words")
    cases = {k: c for k, c in load().items() if not asked.words or any(w in k for w in asked.words)}
    if not cases:
        parser.error(f"no case has any of these in its name: {' '.join(asked.words)}")
    results = [measured(name, case) for name, case in cases.items()]
    tell(results, every=bool(asked.words))
    verdicts = [result.verdict for result in results]
    missed, short = verdicts.count("MISS"), verdicts.count("short")
    print(
        f"\n{len(cases)} cases, {missed} outside their tolerance or below their order, "
        f"{short} known to fall short"
    )
    if asked.json:
        record = {
            "cases": [result.record for result in results],
            "bows in print": [figure.record for figure in published.figures()],
        }
        asked.json.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")
    if asked.readme:
        text = README.read_text(encoding="utf-8")
        README.write_text(into_readme(text, results), encoding="utf-8")
    for file in (asked.picture, PICTURE if asked.readme else None):
        if file:
            from benchmarks.picture import draw

            draw(results, file)
    return missed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]) > 0)
