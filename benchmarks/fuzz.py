"""Spoil the example designs at random and read them: ``python -m benchmarks.fuzz --number 10000``.

Each text is made from the seed and its own number alone, so that one can be read again:
``--only 57``. A text is read as a sound design, which is then written and read back the same, or
refused with one error that lists the faults. Anything else is a failure, listed with its number.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.table import show
from bowfem import Design, DesignError

DESIGNS = Path(__file__).parents[1] / "examples" / "designs"
EXAMPLES = [file.read_text(encoding="utf-8") for file in sorted(DESIGNS.glob("*.toml"))]
#: Every key of the examples: in another place, most of them are wrong.
KEYS = sorted(set(re.findall(r"\b([a-z_]+) *=", "\n".join(EXAMPLES))))
NUMBERS = [
    "0",
    "-1",
    "1/3",
    "1/0",
    "-3/4",
    "24",
    "2-1/2",
    "1e308",
    "-1e308",
    "1e-308",
    "1e999",
    "nan",
    "inf",
    "9" * 60,
    "0x10",
    "1_000",
    "٣",
    "½",
]
UNITS = ["in", "mm", "ft", "m", "deg", "rad", "lbf", "MPa", "psi", "%", "C", "1/in", "in in", ""]
WORDS = [
    "true",
    "[]",
    "{}",
    '""',
    "[[]]",
    "[{}]",
    "1979-05-27",
    '["3 in"]',
    '"round"',
    "'forward'",
    '{ at = "3 in" }',
    "3",
    "-0.0",
    '"\\u0000"',
    '"""',
    "#",
    "=",
    "]",
    "[x]",
    "\x00",
    "é\r",
]
WAYS = (
    "another number",
    "another value",
    "another word",
    "delete a line",
    "swap lines",
    "repeat a line",
    "a stray key",
    "a broken character",
    "a torn end",
)
READ, REFUSED, FAILED = "read", "refused", "FAILED"
Random = np.random.Generator


def spoiled(seed: int, number: int) -> tuple[str, str]:
    """Spoil an example in one or two ways; return the text and the first way.

    Parameters
    ----------
    seed : int
        Seed of the run.
    number : int
        Which text of the run.
    """
    rng = np.random.default_rng([seed, number])
    lines = EXAMPLES[rng.integers(len(EXAMPLES))].splitlines()
    ways = [WAYS[rng.integers(len(WAYS))] for _ in range(rng.integers(1, 3))]
    for way in ways:
        lines = _spoil(rng, lines, way) or [""]
    return "\n".join(lines), ways[0]


def _spoil(rng: Random, lines: list[str], way: str) -> list[str]:
    at, other = rng.integers(len(lines), size=2)
    line, text = lines[at], lines[:]
    match way:
        case "delete a line":
            del text[at]
        case "swap lines":
            text[at], text[other] = text[other], text[at]
        case "repeat a line":
            text.insert(at, text[other])
        case "another number":  # near the one there is: what is sound and what is out of range
            number = re.compile(r"(?<=\")[0-9]+(?:\.[0-9]+)?")
            factor = np.exp(rng.normal(0.0, 0.5))
            text[at] = number.sub(lambda found: f"{float(found[0]) * factor:.4g}", line, count=1)
        case "another value":
            text[at] = _replaced(rng, line, r'"[^"]*"', _value(rng))
        case "another word":
            word = _value(rng) if rng.random() < 0.5 else KEYS[rng.integers(len(KEYS))]
            text[at] = _replaced(rng, line, r'"[^"]*"|[A-Za-z_]+|[0-9.]+|\S', word)
        case "a stray key":
            text.insert(at, f"{KEYS[rng.integers(len(KEYS))]} = {_value(rng)}")
        case "a broken character":
            place = rng.integers(len(line) + 1)
            text[at] = line[:place] + chr(rng.integers(1, 0x3000)) + line[place + 1 :]
        case "a torn end":
            text = [*text[:at], line[: rng.integers(len(line) + 1)]]
    return text


def _value(rng: Random) -> str:
    if rng.random() < 0.4:
        return WORDS[rng.integers(len(WORDS))]
    quantity = f"{NUMBERS[rng.integers(len(NUMBERS))]} {UNITS[rng.integers(len(UNITS))]}"
    return f'"{quantity}"' if rng.random() < 0.9 else quantity


def _replaced(rng: Random, line: str, pattern: str, new: str) -> str:
    spots = list(re.finditer(pattern, line))
    if not spots:
        return new
    spot = spots[rng.integers(len(spots))]
    return line[: spot.start()] + new + line[spot.end() :]


@dataclass(frozen=True)
class Outcome:
    """How one text was taken: the first way it was spoiled, how it ended, what was said."""

    number: int
    way: str
    ending: str
    message: str


def read(seed: int, number: int) -> Outcome:
    """Read a text; what is neither a sound design nor a list of faults has failed."""
    text, way = spoiled(seed, number)
    try:
        design = Design.from_toml(text, source="spoiled.toml")
        again = design.to_toml()
        if Design.from_toml(again) != design:
            return Outcome(number, way, FAILED, "written and read back, it is another design")
        for limb in design.limbs:
            s = np.linspace(0.0, limb.length, 20)
            for along in (limb.thickness_at, limb.natural_curvature, limb.natural_angle):
                if not np.all(np.isfinite(along(s))):
                    return Outcome(number, way, FAILED, f"{along.__name__} is not finite")
    except DesignError as error:
        told = str(error)
        if error.faults and told.startswith("spoiled.toml: "):
            return Outcome(number, way, REFUSED, told)
        return Outcome(number, way, FAILED, f"an error without its faults: {told}")
    except Exception as error:  # of any kind: that is what is looked for
        return Outcome(number, way, FAILED, f"{type(error).__name__}: {error}")
    return Outcome(number, way, READ, "")


def main(words: Sequence[str] = ()) -> int:
    """Read and count; return how many texts failed."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.fuzz", description=__doc__)
    parser.add_argument("--number", type=int, default=2000, help="texts to read (default 2000)")
    parser.add_argument("--seed", type=int, default=0, help="another run (default 0)")
    parser.add_argument("--only", type=int, metavar="K", help="read text K alone, show it")
    asked = parser.parse_args(words)
    if asked.number < 1 or asked.seed < 0 or (asked.only or 0) < 0:
        parser.error("--number must be at least 1, --seed and --only at least 0")
    if asked.only is not None:
        outcome = read(asked.seed, asked.only)
        print(spoiled(asked.seed, asked.only)[0])
        print(f"{outcome.ending}: {outcome.message}")
        return int(outcome.ending == FAILED)
    begin = time.perf_counter()
    outcomes = [read(asked.seed, number) for number in range(asked.number)]
    spent = time.perf_counter() - begin
    counts = Counter((outcome.way, outcome.ending) for outcome in outcomes)
    endings = (READ, REFUSED, FAILED)
    show(
        ("spoiled by, first", *endings),
        [(way, *(str(counts[way, ending]) for ending in endings)) for way in WAYS],
    )
    failed = [outcome for outcome in outcomes if outcome.ending == FAILED]
    total = Counter(outcome.ending for outcome in outcomes)
    print(
        f"\n{asked.number} texts of seed {asked.seed}: {total[READ]} read, {total[REFUSED]} "
        f"refused with their faults, {len(failed)} failed; {1e3 * spent / asked.number:.2f} ms each"
    )
    for outcome in failed:
        print(f"failed: --seed {asked.seed} --only {outcome.number}: {outcome.message}")
    return len(failed)


if __name__ == "__main__":
    sys.exit(min(main(sys.argv[1:]), 1))
