"""Actions of the bench: lines of the tables in `actions`, beside those there."""

from typing import Final

from qcledger.screens.verbs import ON_SESSION, Line

BENCH: Final[tuple[Line, ...]] = (
    *((f"digit_{n}", str(n), f"digit({n})", str(n), None, f"Grade {n}, or choice {n}.") for n in range(10)),
    ("enter", "enter", "enter", "next specimen", 1, "Take the proposed grade; else the next specimen, or test."),
    ("undo", "z,.", "undo", "undo", 2, "Take back the last thing done."),
    ("not_testable", "-", "not_testable", "not testable", 3, "Record that it could not be tested."),
    ("photo", "f,*", "photo", "photo", 4, "File the newest picture of the photo folder."),
    ("note", "n", "note", "note", 5, "Write a note to this grade."),
    ("back", "<,pageup,left,backspace", "move(-1)", "back", 6, "Go back one place; a digit there amends."),
    ("on", ">,pagedown,right", "move(1)", "on", None, "Leave this place open and go on."),
    ("half", "+", "half", "half step", 8, "Half a step worse, or whole again."),
    ("beat", "space", "beat", "beat", 7, "Start the beat of one a second; stop it: the reading."),
    ("reading", "r,/", "reading", "reading", None, "Type a reading, as in 23 or >60."),
    ("timer", "t", "timer", "timer", 9, "Start a timer for this specimen and test, or stop it."),
    ("walk", "w", "walk", "walk", None, "Walk by specimen, or by test."),
    ("stage", "s", "stage", "stage", None, "Go to the next stage, as the rubric has them."),
    ("paper", "p", "paper", "from paper", None, "Type a filled sheet, one line a specimen."),
    ("cautions", "!", "cautions", "cautions", None, "Read every caution of this sheet."),
    ("sheets", "o,escape", "sheets", "sheets", None, "Show the sheets at work."),
    ("begin", "b", "begin", "begin a sheet", None, "Begin a new run sheet."),
    ("plan", "l", "plan", "lay out a blind sheet", None, "Lay out a run sheet: codes, a balanced order, repeats."),
    ("pour", "d", "pour", "poured", None, "Record what was poured to dry, where the rubric has that."),
    ("open_early", "e", "open_early", "open codes", None, "Open a blind sheet's codes early, with a reason."),
    ("close", "c", "close_session", "close", None, "Check the session of this sheet, then close, keep or void it."),
    ("tester", "m", "tester", "tester", None, "How good the tester is: repeats, drift, control, sessions."),
    ("amend", "a", "amend", "amend", None, "Amend what stands at this place, with a reason, in full."),
    ("put_down", "y", "put_down", "put down", None, "What is put on the paper, step by step, with timers."),
    ("look", "v", "look", "look", None, "What is looked at, test by test, at which stage."),
    (
        "map",
        "x",
        "map",
        "sheet map",
        None,
        "Which specimen lies where, and what stands; Enter there goes to a place.",
    ),
    ("conditions", "h", "conditions", "conditions", None, "Note or amend what this stage is worked under."),
)
PUT_DOWN: Final[tuple[Line, ...]] = (
    ("laid", "space,enter", "laid", "laid", 1, "The marked step is done; once more: it is not."),
    ("timer", "t", "timer", "timer", 2, "Start a timer for the marked step, or stop it."),
    ("put_down", "y", "to_part('y')", "put down", 3, "Go to what is put down."),
    ("look", "v", "to_part('v')", "look", 4, "Go to what is looked at, at the stage at work."),
    ("leave", "escape,backspace", "leave", "back", 5, "Go back to the sheet."),
)
SHEET_MAP: Final[tuple[Line, ...]] = (
    ("go", "enter", "there", "go there", 1, "Go to this place on the sheet."),
    ("left", "left,<", "move(0, -1)", "test before", None, "The test before."),
    ("right", "right,>", "move(0, 1)", "next test", None, "The next test."),
    ("up", "up,pageup", "move(-1, 0)", "place above", None, "The place above, on the same test."),
    ("down", "down,pagedown", "move(1, 0)", "place below", None, "The place below, on the same test."),
    ("blank", "space", "blank", "next blank", 2, "The next place where nothing stands."),
    ("leave", "escape,backspace", "leave", "back", 3, "Go back to the sheet, where you were."),
)
LETTERS: Final = "abcdeghijklmopqstuvwxy"
"""Letters of the criteria at unpacking, those of `rubric.model.LETTERS`: each means one criterion in every format."""
UNPACKING: Final[tuple[Line, ...]] = (
    *((f"digit_{n}", str(n), f"digit({n})", str(n), None, f"Grade {n}, or choice {n}.") for n in range(10)),
    *((f"pick_{key}", key, f"pick('{key}')", key, None, f"Go to the criterion {key}.") for key in LETTERS),
    ("rest", "space", "rest", "the rest is sound", 1, "Grade everything that is open on this piece as sound."),
    ("enter", "enter", "enter", "next piece", 2, "Take the proposed grade; else the next piece with something open."),
    ("leave", "escape", "leave", "back", 3, "Go back."),
    ("photo", "f,*", "photo", "photo", 4, "File the newest picture of the photo folder with the grade given last."),
    ("note", "n", "note", "note", 5, "Write a note to the grade given last."),
    ("undo", "z", "undo", "undo", 6, "Take back the last thing done here: a grade, a note, a photo or the rest."),
    ("not_testable", "-", "not_testable", "not testable", 7, "Record that it could not be judged."),
    ("reading", "r,/", "reading", "reading", None, "Type a reading, as in 12 or >18."),
    ("next", "right,>", "move(1)", "next", None, "The next criterion."),
    ("back", "left,backspace,<", "move(-1)", "back", None, "The criterion before, or what was left blank."),
    ("down", "down,pagedown", "piece(1)", "piece below", None, "The piece below, on the same criterion."),
    ("up", "up,pageup", "piece(-1)", "piece above", None, "The piece above, on the same criterion."),
    ("cautions", "!", "cautions", "cautions", None, "Read every caution of unpacking."),
)
CLOSING: Final[tuple[Line, ...]] = (
    (
        "close",
        "c",
        "close_session",
        "close",
        1,
        "Close it and open its codes; what is open is noted in a decision.",
    ),
    ("void", "v", "void", "void", 2, "Void the session; the reasons of the check stand ready to be changed."),
    ("keep", "k", "keep", "keep", 3, "Keep the session as it is, with a reason, whatever is proposed."),
    ("reinstate", "r", "reinstate", "count again", 4, "Let a void session count again, with a reason."),
    ("observations", "a", "observations", "amend", 5, "List what was observed on its sheet; a there amends one."),
    ("conditions", "h", "conditions", "conditions", 6, "Note or amend what a stage was worked under."),
    *ON_SESSION,
    ("leave", "escape,backspace", "leave", "back", 7, "Go back."),
    ("on", "space,pagedown", "turn(1)", "on", 8, "Read on, a screen at a time; the arrow keys go by lines."),
    ("up", "pageup", "turn(-1)", "up", None, "Go up a screen."),
)
TESTER: Final[tuple[Line, ...]] = (
    ("charts", "c", "charts", "charts", 1, "The control over the sessions, drawn; or the words again."),
    ("check", "enter,s", "check", "check a session", 2, "Type a session's code to see its checks and decide."),
    ("leave", "escape,backspace", "leave", "back", 3, "Go back."),
    ("on", "space,pagedown", "turn(1)", "on", 4, "Read on, a screen at a time; the arrow keys go by lines."),
    ("up", "pageup", "turn(-1)", "up", None, "Go up a screen."),
)
