"""The committed demo is what its seed makes, and holds what the list in `tests.studio` says."""

from collections import Counter, defaultdict
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import ExifTags, Image

from qcledger.records import Decision, Observation, RunRow, Session, Specimen, Trial
from qcledger.vocab import Blinding, Format, Role, Source, Standing, WhyBought
from tests.studio import noise, onpaper, scales, sessions, truths, weeks
from tests.studio.chance import stream
from tests.studio.diary import GUEST, NAMES, OWNER
from tests.studio.grading import look
from tests.studio.make import DEMO, kept_picture, make, written
from tests.studio.makers import COLOURS, MAKERS, PIGMENTS
from tests.studio.photos import album
from tests.studio.purchases import CONTROL, MIDDLE, ORDERS, PIECES

ROOT = Path(__file__).parents[2]
PAGES = written()


def _rows(kind):
    return [row for page in PAGES for row in page.records if isinstance(row, kind)]


def _faulty(criterion, pieces):
    line = scales.criterion(criterion).fault_line
    return sum((look(piece, criterion, "unpacking").grade or 0) >= line for piece in pieces)


def test_the_committed_folder_is_what_the_seed_makes(tmp_path):
    """Making the demo again around its photos gives the committed files, byte for byte, and no others."""
    make(tmp_path / "demo", kept_picture)
    made = {path.relative_to(tmp_path / "demo"): path.read_bytes() for path in (tmp_path / "demo").rglob("*.*")}
    kept = {path.relative_to(DEMO): path.read_bytes() for path in DEMO.rglob("*.*")}
    assert sorted(made) == sorted(kept)
    assert [str(path) for path in made if made[path] != kept[path]] == []


@pytest.mark.parametrize("shot", list(album.shots(PAGES)), ids=lambda shot: shot.name)
def test_photos_are_those_the_seed_draws(shot, tmp_path):
    """Each photo drawn anew looks like the committed one, whatever processor and library draw it."""
    album.save(shot, tmp_path / "drawn.jpg")
    kept_picture(shot, tmp_path / "kept.jpg")
    with Image.open(tmp_path / "drawn.jpg") as drawn, Image.open(tmp_path / "kept.jpg") as kept:
        apart = np.abs(np.asarray(drawn, dtype=float) - np.asarray(kept, dtype=float))
    assert apart.mean() < 2


def test_the_demo_is_small():
    """The demo travels inside the wheel: under 4.4 MB, and no photo over 40 kB."""
    files = [path for path in DEMO.rglob("*") if path.is_file()]
    assert sum(path.stat().st_size for path in files) < 4_400_000
    assert max(path.stat().st_size for path in files if path.suffix == ".jpg") < 40_000


def test_photos_say_when_they_were_taken():
    """Each photo is 640 by 480 and has its time and zone in EXIF (EXIF 2.32, tags 36867 and 36881, from memory)."""
    photos = sorted((DEMO / "photos").glob("*.jpg"))
    assert 20 <= len(photos) <= 40
    for path in photos:
        with Image.open(path) as image:
            assert image.size == (640, 480)
            details = image.getexif().get_ifd(ExifTags.IFD.Exif)
        assert details[ExifTags.Base.DateTimeOriginal].startswith("2026:")
        assert details[ExifTags.Base.OffsetTimeOriginal] == "+00:00"


def test_invented_makers_stay_in_tests_and_demo():
    """No maker's name stands in the program, its rubrics or its guide."""
    names = [name.casefold() for name in MAKERS]
    texts = [*(ROOT / "qcledger").rglob("*.*"), *(ROOT / "rubrics").rglob("*.yaml"), ROOT / "README.md"]
    found = [
        f"{path}: {name}"
        for path in texts
        if path.suffix in {".py", ".md", ".yaml", ".tcss", ".json", ".html"}
        for name in names
        if name in path.read_text(encoding="utf-8").casefold()
    ]
    assert found == []


def test_declared_numbers_are_those_of_the_pigment_reference():
    """Labels print the constitution numbers and CAS numbers of the shipped pigment table, which names its sources."""
    from qcledger.rubric import pigments
    from qcledger.settings import shipped

    known = pigments.load(shipped("rubrics") / "pigments.yaml")
    for name, pigment in PIGMENTS.items():
        assert pigment.number in known[name].numbers
        assert pigment.cas == known[name].cas


def test_scatter_has_the_shares_it_says():
    """On a scale with room to both sides a grade stays in 75 %, moves by one in 23 %, by two in 2 %."""
    granulation, chance = scales.criterion("granulation"), stream("test", "scatter")
    off = Counter(abs(noise.graded(2.5, granulation, chance) - 2.5) for _ in range(20_000))
    shares = [off[step] / 20_000 for step in (0, 1, 2)]
    # Three standard errors of a share at 20,000 draws: 0.0092, 0.0089, 0.0030.
    assert shares == pytest.approx([0.75, 0.23, 0.02], abs=0.0092)


def test_scatter_moves_to_the_next_anchor_where_not_all_are_offered():
    """On a scale of 0, 1, 3 and 5 only offered grades come out, and the ends hold."""
    cracked, chance = scales.criterion("cracked"), stream("test", "anchors")
    seen = {true: {noise.graded(true, cracked, chance) for _ in range(3_000)} for true in (0, 3)}
    assert seen == {0: {0, 1, 3}, 3: {0, 1, 3, 5}}


def test_readings_scatter_within_twelve_per_cent():
    """A reading lies within 12 % of its true value, on either side."""
    chance = stream("test", "readings")
    seen = np.array([noise.measured(1.0, chance) for _ in range(5_000)])
    assert 0.88 <= seen.min() < 0.9
    assert 1.1 < seen.max() <= 1.12


def test_readings_agree_with_their_grades():
    """Where the rubric fixes a grade by its reading, the grade written is the one it proposes."""
    fixed = [
        row
        for row in _rows(Observation)
        if (reading := scales.criterion(row.criterion).reading) and reading.limits and row.reading is not None
    ]
    assert len(fixed) > 300
    wrong = [row for row in fixed if scales.criterion(row.criterion).propose(row.reading, row.censored) != row.grade]
    assert wrong == []


def test_a_bad_lot_stands_in_three_shops_and_three_sessions():
    """Kiln Red Q4471: 4 of 4 parted, 0 of 7 in the lots beside it; S02, S03, S05, one to confirm."""
    red = [
        piece for piece in PIECES if piece.colour is COLOURS["Quernlow", "Kiln Red"] and piece.format is Format.TUBE
    ]
    bad, good = [p for p in red if p.lot == "Q4471"], [p for p in red if p.lot != "Q4471"]
    assert (len(bad), _faulty("parted_binder", bad)) == (4, 4)
    assert (len(good), _faulty("parted_binder", good)) == (7, 0)
    assert {piece.session for piece in bad} == {"S02", "S03", "S05", None}
    assert len({piece.order.seller for piece in bad}) == 3
    assert [piece.order.why for piece in bad].count(WhyBought.TO_CONFIRM) == 1


def test_wrappers_stick_on_seven_of_nine():
    """Trellmere half pans: 7 of 9 over 4 paints, 6 lots and 3 parcels; the parcel to confirm bears it out alone."""
    pans = [piece for piece in PIECES if piece.colour.maker == "Trellmere" and piece.format is Format.HALF_PAN]
    again = [piece for piece in pans if piece.order.why is WhyBought.TO_CONFIRM]
    assert (len(pans), _faulty("wrapper_adhesion", pans)) == (9, 7)
    assert [
        len({key(p) for p in pans}) for key in (lambda p: p.colour.name, lambda p: p.lot_key, lambda p: p.parcel)
    ] == [4, 6, 3]
    assert (len(again), _faulty("wrapper_adhesion", again)) == (3, 3)
    assert {p.order.seller for p in again}.isdisjoint(p.order.seller for p in pans if p not in again)


def test_a_whole_range_is_faint_with_fresh_lots_to_confirm():
    """Corvannet: six colours, three formats, three sellers; the last parcel has lots and a seller of its own."""
    mine = [piece for piece in PIECES if piece.colour.maker == "Corvannet"]
    first = [piece for piece in mine if piece.order.why is WhyBought.PLANNED]
    again = [piece for piece in mine if piece.order.why is WhyBought.TO_CONFIRM]
    assert len({p.colour.name for p in mine}) == 6
    assert {p.format for p in mine} == {Format.HALF_PAN, Format.FULL_PAN, Format.TUBE}
    assert {p.lot_key for p in first}.isdisjoint(p.lot_key for p in again)
    assert {p.order.seller for p in first}.isdisjoint(p.order.seller for p in again)
    assert len({p.order.seller for p in mine}) == 3


@pytest.mark.parametrize("control", [CONTROL, MIDDLE], ids=lambda piece: piece.colour.name)
def test_the_controls_are_on_every_sheet_and_only_s07_moves_them(control):
    """Controls stay by their median but in S07, where two traits rise by 1.5; one look may be two grades off."""
    seen = defaultdict(lambda: defaultdict(list))
    for code in sessions.SITTINGS:
        cells = [(place, key, result) for place, key, result in sessions.results(code) if place.piece is control]
        assert {place.role for place, *_ in cells} == {Role.CONTROL}
        for _, key, result in cells:
            seen[key][code].append(result.grade)
    for key, grades in seen.items():
        calm = [np.mean(some) for code, some in grades.items() if code != truths.DRIFTED and None not in some]
        if calm:
            assert max(abs(grade - np.median(calm)) for grade in calm) <= (1 if control is CONTROL else 2)
        if key in truths.DRIFT:
            assert np.mean(grades[truths.DRIFTED]) - np.median(calm) >= 1


def test_the_control_stands_first_and_last_and_another_in_the_middle():
    """Each sheet begins and ends with one tube, and mid-sheet comes a second one from the middle of the scales."""
    for code in sessions.SITTINGS:
        places = sessions.places(code)
        controls = [(place.row.position, place.piece) for place in places if place.role is Role.CONTROL]
        (first, one), (middle, second), (last, other) = controls
        assert (first, last) == (1, len(places))
        assert one is other is CONTROL
        assert second is MIDDLE
        assert len(places) / 3 < middle < 2 * len(places) / 3
    graded = [
        result.grade
        for code in sessions.SITTINGS
        for place, key, result in sessions.results(code)
        if place.piece is MIDDLE and key in ("rewetting_in_fives", "laydown_count", "evenness", "granulation")
    ]
    assert 1.5 <= np.median(graded) <= 3


def test_a_hidden_repeat_is_far_from_its_piece():
    """Whoever meets a piece again on the same sheet has had seven others between."""
    near = []
    for code in sessions.SITTINGS:
        rows = sessions.places(code)
        first = {place.piece.number: place.row.position for place in rows if place.role is Role.SPECIMEN}
        near += [
            place.row.position - first[place.piece.number]
            for place in rows
            if place.role is Role.REPEAT and place.piece.number in first
        ]
    assert len(near) >= 9
    assert min(near) >= 8


def test_nothing_is_void_yet():
    """The drifted session is left for the tester to find: no decision speaks of a session."""
    assert [row for row in _rows(Decision) if row.subject_table == "session"] == []


def test_each_finished_sheet_is_blind_balanced_and_repeated():
    """A sheet has at most 24 cells, three-digit codes given once, controls, and about one cell in ten repeated."""
    sheets = defaultdict(list)
    for row in _rows(RunRow):
        if row.session not in {sessions.session_id(onpaper.CODE), sessions.session_id(weeks.CODE)}:
            sheets[row.session].append(row)
    assert len(sheets) == 9
    for rows in sheets.values():
        roles = Counter(row.role for row in rows)
        assert len(rows) <= 24
        assert len({row.code for row in rows}) == len(rows)
        assert all(row.code is not None and len(row.code) == 3 for row in rows)
        assert roles[Role.CONTROL] == 3
        assert roles[Role.REPEAT] >= len(rows) // 12


def test_tubes_dry_for_a_week_before_their_sheet():
    """Tube paint is poured at least seven days before the session it is first tested in."""
    for code, sitting in sessions.SITTINGS.items():
        for place in sessions.places(code):
            poured = sessions.poured(place.piece)
            assert poured is None or sitting.day - poured.on >= timedelta(days=7)


def test_nothing_happens_before_it_can():
    """No piece is tested before its parcel came, and no page holds an observation from later than its own time."""
    for piece in PIECES:
        if piece.session:
            assert sessions.SITTINGS[piece.session].day >= piece.order.received
        assert piece.order.bought <= piece.order.received
    assert [
        page.at for page in PAGES for row in page.records if isinstance(row, Observation) and row.at > page.at
    ] == []


def test_one_sheet_is_at_work_and_counts_towards_nothing():
    """The last session is open, not closed, graded in part, on a paper that is not the comparison's."""
    last = [row for row in _rows(Session) if row.id == sessions.session_id(onpaper.CODE)]
    assert [(row.blinding, row.closed_at) for row in last] == [(Blinding.OPEN, None)]
    assert sessions.comparison().reference_paper != onpaper.PAPER
    waiting = {row.id for row in _rows(Session)} - {row.id for row in _rows(Session) if row.closed_at}
    assert waiting == {last[0].id, sessions.session_id(weeks.CODE)}
    trials = {row.id for row in _rows(Trial) if row.session == last[0].id}
    assert len(trials) == 6
    assert sum(row.trial in trials for row in _rows(Observation)) == onpaper.JUDGED < len(onpaper.places())


def test_two_testers_write():
    """The guest writes the grades of S07 and nothing else; the owner writes all the rest."""
    guest = [row for page in PAGES if page.by == GUEST for row in page.records]
    assert {row.session for row in guest if isinstance(row, Trial)} == {sessions.session_id("S07")}
    assert {row.tester for row in guest if isinstance(row, Observation)} == {NAMES[GUEST]}
    owner = [row for page in PAGES if page.by == OWNER for row in page.records if isinstance(row, Observation)]
    assert {row.tester for row in owner} == {NAMES[OWNER]}


def test_sizes_of_the_demo():
    """About two hundred specimens, three thousand observations, eleven sessions, nine makers, one gift."""
    specimens = _rows(Specimen)
    assert len({row.id for row in specimens}) == len(PIECES) == 197
    assert 2_500 < len(_rows(Observation)) < 4_000
    assert len({row.id for row in _rows(Session)}) == 11
    assert sum(row.source is Source.GIFT for row in specimens) == 1
    assert {ORDERS[piece.parcel].currency for piece in PIECES} == {"EUR", "GBP"}


def test_expectations_name_what_was_planted():
    """Every truth that can be found or over-claimed has its line, with standings the right way round."""
    order = list(Standing)
    assert {one.number for one in truths.EXPECTED} == {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13}
    for one in truths.EXPECTED:
        assert order.index(one.least) <= order.index(one.most)
        assert one.maker in (None, *MAKERS)
        assert scales.criterion(one.criterion)
