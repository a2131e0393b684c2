"""What the truth beside a sheet says a cell means on the scale of a criterion; it shares nothing with the reader."""

import csv
import re
from pathlib import Path

FOLDER = Path(__file__).parent
LETTERS = ["A", "B+", "B", "B/C", "C", "C/D", "D", "D/E", "E"]
PLACES = {"A": 0, "B+": 0.5, "B": 1, "B/C": 1.5, "C": 2, "C/D": 2.5, "D": 3, "D/E": 3.5, "E": 4}
SIGNS = ["++", "+", "o", "-", "--"]
COLOURS = {"fine": 0.0, "so-so": 0.5, "bad": 1.0}
FAULT, LITTLE, NOT_SURE = "fault", "little", "not sure"
READINGS = ("turns", "bubbles", "counted", "share of")


def facts(number: str) -> list[dict[str, str]]:
    """Return the lines of a sheet's truth."""
    (path,) = FOLDER.glob(f"{number}-*.truth.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def first_number(text: str) -> float:
    """Return the first number in a text."""
    return float(re.search(r"-?\d+(?:\.\d+)?", text.replace(",", "."))[0])


def is_reading(fact: dict[str, str]) -> bool:
    """Say whether a cell is a measured value."""
    return fact["scale"].startswith(READINGS)


def share(fact: dict[str, str]) -> float | str:
    """Return how far from the best (or least) to the worst (or most) end a mark is, 0 to 1, or a verdict."""
    scale, means, value = fact["scale"], fact["means"], fact["value"].strip()
    if fact["worse"] in ("the mark says", "the word says", "yes", "y", "said"):
        return _verdict(means)
    if scale.startswith("school mark"):
        return (float(means) - 1) / 5
    if scale.startswith("green"):
        return COLOURS[means]
    if scale.startswith("A best"):
        return PLACES[value] / 4
    if scale.startswith("++"):
        return SIGNS.index(value) / 4
    if scale.startswith("1 to 10, 10 best"):
        return 1 - (first_number(means) - 1) / 9
    if "10 best" in scale:
        return 1 - first_number(means) / 10
    if "stars best" in scale:
        return 1 - first_number(means) / 5
    if re.match(r"0\b", scale):
        return first_number(means) / 5
    words = scale.split(", ")
    return words.index(value) / (len(words) - 1)


def _verdict(means: str) -> float | str:
    if "not sure" in means:
        return NOT_SURE
    if "little" in means:
        return LITTLE
    return FAULT if "fault" in means and "no fault" not in means else 0.0
