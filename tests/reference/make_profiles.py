"""Make expected grades of each pigment from the words of `rubrics/pigments.yaml`.

`python -m tests.reference.make_profiles` writes the file. The words are common practice, no source. Which grade a
word stands for is read from the anchors of `rubrics/watercolour.yaml` and is our own; so is how far makers of one
pigment lie apart. Written before anything that is tested with it, and not made again: `test_profiles.py` holds the
bytes.
"""

import json
from pathlib import Path

import numpy as np
from scipy.special import ndtr

from qcledger.rubric.pigments import load

HERE = Path(__file__).parent
PIGMENTS = HERE.parents[1] / "rubrics" / "pigments.yaml"
PROFILES = HERE / "profiles" / "pigments.json"

GRADE = {
    "grain": {"none": 0.0, "slight": 1.5, "marked": 3.0, "strong": 4.0},
    "cover": {"lets light through": 1.0, "half": 2.5, "covers": 4.5},
    "stain": {"none": 0.5, "slight": 1.5, "marked": 3.0, "strong": 4.5},
    "rewet": {"easy": 0.5, "middling": 2.0, "hard": 4.0},
}
"""The middle grade that a word stands for, of granulation, opacity, staining and rewetting difficulty, 0 to 5."""
STRENGTH = {"very slight": 0.25, "slight": 0.5, "marked": 1.0, "strong": 2.0}
"""Tinting strength relative to a pigment that tints markedly."""
MAKERS_APART = 0.6
"""Standard deviation of makers' paints of one pigment about the middle grade."""
GRADES = np.arange(6)


def spread(words, trait):
    """Return the chance of each whole grade 0 to 5 for a maker's paint, the words alike likely."""
    if not words:
        return None
    middles = np.array([GRADE[trait][str(word)] for word in words])
    below = ndtr((GRADES[:-1] + 0.5 - middles[:, None]) / MAKERS_APART)
    chance = np.diff(below, axis=1, prepend=0.0, append=1.0).mean(axis=0)
    return [round(float(one), 4) for one in chance]


def main():
    """Write the file."""
    pigments = load(PIGMENTS)
    told = {
        name: {
            **{trait: spread(getattr(one, trait), trait) for trait in GRADE},
            "strength": [STRENGTH[str(word)] for word in one.strength] or None,
        }
        for name, one in pigments.items()
    }
    lines = ",\n".join(f"  {json.dumps(name)}: {json.dumps(row)}" for name, row in told.items())
    PROFILES.write_text("{\n" + lines + "\n}\n")


if __name__ == "__main__":
    main()
