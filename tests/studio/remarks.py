"""What a tester jots down beside some grades, in a tester's own words."""

from types import MappingProxyType

import numpy as np

from tests.studio.chance import stream
from tests.studio.grading import Seen

_EVERY = 0.05
"""Share of results with a note; of faulty-looking ones, `_OF_BAD`."""
_OF_BAD = 0.2
_BAD = 3.0

_FINE = MappingProxyType(
    {
        "rewetting_in_fives": (
            "first strip a hair pale",
            "skin broke at once",
            "brush a little too wet",
        ),
        "laydown_count": ("blank had one, taken off", "all at the start of the stroke"),
        "froth_amount": ("only along the rim", "two bubbles, gone before I looked again"),
        "wash_faintness": ("pool at the lower edge, judged the middle", "dried unevenly, draught from the door"),
        "granulation": ("between two anchors", "only in the valleys of the paper"),
        "staining": ("paper roughened a little", "edge stays, middle lifts"),
        "evenness": ("streak from the brush, not counted", "low lamp needed"),
        "opacity": ("line thin at the left end",),
        "tinting_ratio": ("between two strips", "well stirred twice"),
        "gradation_steps": ("fourth step hard to call",),
        "salt": ("crystals a bit coarse today",),
        "backruns": ("drop fell from too high, second try",),
        "drying_shift": ("wet photo a little bright",),
        "separation": ("maybe a halo, maybe the paper",),
        "wet_spread": ("ruler wet, read twice",),
        "cracked": ("hairline at the rim, seen by lens only",),
        "wrapper_adhesion": ("one corner held, came off whole",),
        "soft_face": ("cool room, left an hour before the look",),
        "loose_in_pan": ("rattles when shaken",),
        "stiff_tube": ("first squeeze slow, then fine",),
        "parted_binder": ("one clear drop, stirred back",),
        "leak": ("thread of the cap smeared",),
        "batch_code": ("crimp read with the lens", "pencilled off the wrapper before it tore"),
        "name_mismatch": ("three languages, all the same",),
    }
)
_POOR = MappingProxyType(
    {
        "rewetting_in_fives": ("gritty under the brush", "still pale at the end", "soaked twice as long would help"),
        "laydown_count": ("bubbles come up behind the brush",),
        "froth_amount": ("froth like soap", "brush full of foam, rinsed and went on", "stands over the whole rim"),
        "wash_faintness": ("like tea", "third coat still short of the others", "no depth at the wet edge either"),
        "granulation": ("like fine sand", "settles while I watch"),
        "staining": ("nothing moves", "a ghost of it stays whatever I do"),
        "evenness": ("grit, felt with the nail",),
        "opacity": ("line gone",),
        "tinting_ratio": ("last strip but two", "white wins"),
        "wrapper_adhesion": ("paper came off in shreds", "damp cloth, ten minutes, still fibres"),
        "cracked": ("crumbs in the wrapper",),
        "parted_binder": ("clear for the first two cm",),
        "batch_code": ("box and leaflet searched twice", "wrapper thrown away by the shop, it seems"),
    }
)


def remark(trial: str, key: str, seen: Seen) -> str:
    """Return the note beside a result of a trial, empty for most."""
    chance, bad = stream("remark", trial, key), (seen.grade or 0) >= _BAD
    words = (_POOR if bad else _FINE).get(key, ())
    if seen.not_testable or not words or chance.random() > _share(bad=bad):
        return ""
    return _said(words, chance)


def _share(*, bad: bool) -> float:
    return _OF_BAD if bad else _EVERY


def _said(words: tuple[str, ...], chance: np.random.Generator) -> str:
    return words[int(chance.integers(len(words)))]
