"""Two windows on one ledger see each other's saves."""

from qcledger.door import Door
from qcledger.records import Maker
from qcledger.screens.app import Pages
from qcledger.screens.bench.page import Bench
from qcledger.screens.desk import Desk
from qcledger.settings import Settings
from tests.screens.support import in_front, picture, until
from tests.small import START, small_ledger

BENCH = {"bench": ("Bench", "qcledger.screens.bench:Bench"), "stock": ("Other", "tests.screens.support:Other")}


def desk_on(place):
    """Return the desk of one window."""
    desk = Desk(Door(place), Door(place, write=True), Settings(), now=lambda: START)
    desk.looks = True
    return desk


async def test_a_desk_tells_what_others_wrote_from_what_it_wrote_itself(home, tmp_path):
    """Its own saves stir nothing; those of another window do, once, whoever's daybook they are in."""
    place = small_ledger(tmp_path).place
    one, two = desk_on(place), desk_on(place)
    for desk in (one, two):
        desk.open()
        assert not await desk.stirred()
    await one.append([Maker(id="m1", name="Ours")])
    assert (await one.stirred(), await two.stirred(), await two.stirred()) == (False, True, False)
    await two.save(lambda ledger: ledger.append([Maker(id="m2", name="Theirs")]))
    await one.append([Maker(id="m3", name="Ours too")])
    assert (await one.stirred(), await one.stirred()) == (True, False)
    for desk in (one, two):
        desk.close()


async def test_a_grade_of_one_window_is_seen_in_the_other(home, tmp_path):
    """The sheet at work there shows it by itself, and stays where it was."""
    small = small_ledger(tmp_path)
    mine, theirs = Pages(desk_on(small.place), BENCH), Pages(desk_on(small.place), BENCH)
    async with mine.run_test(size=(120, 40)) as pilot, theirs.run_test(size=(80, 24)) as other:
        for app, hand in ((mine, pilot), (theirs, other)):
            await until(hand, lambda app=app: in_front(app, Bench) and app.screen.atwork is not None)
        await until(pilot, lambda: mine.desk._others is not None)
        await other.press("3")
        await until(other, lambda: "saved " in picture(theirs))
        await until(pilot, lambda: "OV 0001  >3  ." in picture(mine))
        assert mine.screen.atwork.here.line == 0
    for app in (mine, theirs):
        app.desk.close()
