"""How often steady sessions are accused, and drifted ones found: ``python tests/bench/bench_sessions.py [LEDGERS]``.

A ledger has 9 sessions. The control is graded on 7 criteria in each; two or three pieces a session, of 7 criteria
each, come back, half of them from earlier sessions. A look is right in 75 %, one grade off in 23 %, two off in 2 %
(our proposal, no source). The table is kept in session_checks.txt.
"""

import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from qcledger.stats.control_chart import RULES, Rule, deviation_of, ewma, individuals
from qcledger.stats.moved import check_sessions

SEED = 20261125
SESSIONS, CRITERIA, SICK = 9, 7, 6


def ledger(rng, lift=0.0, lifted=0, step=1.0, noise=(0.75, 0.23, 0.02)):
    """Return grades, sessions, criteria and pieces; `lifted` criteria read `lift` higher in session `SICK`."""
    looks = [(session, 0) for session in range(SESSIONS)]
    for piece in range(1, 2 * SESSIONS + 3):
        first = int(rng.integers(0, SESSIONS))
        later = first if rng.random() < 0.5 else int(rng.integers(first, SESSIONS))
        looks += [(first, piece), (later, piece)]
    session, piece = np.repeat(np.array(sorted(looks)), CRITERIA, axis=0).T
    criterion = np.tile(np.arange(CRITERIA), len(looks))
    true = rng.choice([0, 0, 1, 1, 2, 3, 4], (2 * SESSIONS + 3, CRITERIA))[piece, criterion]
    off = step * rng.choice([0, 1, 2], len(true), p=noise) * rng.choice([-1, 1], len(true))
    drift = lift * ((session == SICK) & (criterion < lifted))
    return np.clip(true + off + drift, 0, 5), session, criterion, piece


def plain_rule(grades, session, criterion, piece):
    """Return the sessions whose control lies more than a grade from its median, or half a grade on average."""
    table = np.full((SESSIONS, CRITERIA), np.nan)
    table[session[piece == 0], criterion[piece == 0]] = grades[piece == 0]
    apart = table - np.median(table, axis=0)
    return np.nonzero((np.abs(apart).max(axis=1) > 1) | (np.abs(apart.mean(axis=1)) > 0.5))[0]


def judged(name, ledgers, **how):
    """Return a line: sessions accused of all steady ones, and how often the drifted one was found."""
    rng, wrong, found, plain, scattered = np.random.default_rng(SEED), 0, 0, 0, 0
    for _ in range(ledgers):
        rows = ledger(rng, **how)
        checks = check_sessions(*rows)
        moved = {one.session for one in checks if one.moved}
        drifted = {SICK} if how.get("lift") else set()
        wrong += len(moved - drifted)
        found += len(moved & drifted)
        plain += len(set(plain_rule(*rows)) - drifted)
        scattered += sum(one.scattered for one in checks if one.session not in drifted)
    steady = ledgers * (SESSIONS - bool(how.get("lift")))
    hit = f"drifted found {found} of {ledgers}" if how.get("lift") else ""
    return (
        f"{name:34} moved {wrong:4} of {steady} ({wrong / steady:.2%})  scattered {scattered / steady:.2%}"
        f"  control past one grade {plain / steady:.1%}  {hit}"
    )


def charts(sessions, ledgers):
    """Return a line: false alarms of charts of steady normal readings, each session judged by the others."""
    rng, beyond, run, slow, ranges = np.random.default_rng(SEED), 0, 0, 0, 0
    for _ in range(ledgers):
        values = rng.standard_normal(sessions)
        chart = individuals(values, rules=RULES)
        beyond += sum(Rule.BEYOND in point.broke for point in chart.values)
        run += sum(Rule.EIGHT in point.broke for point in chart.values)
        ranges += sum(bool(point.broke) for point in chart.ranges)
        slow += any(point.broke for point in ewma(values, values.mean(), deviation_of(values)))
    total = ledgers * sessions
    return (
        f"readings, {sessions:3} sessions: beyond {beyond / total:.2%}, eight on one side {run / total:.2%}, "
        f"moving range {ranges / (total - ledgers):.2%} a session; EWMA ever {slow / ledgers:.1%}"
    )


def lines(ledgers):
    """Yield the table."""
    yield f"Session checks, seed {SEED}, {ledgers} ledgers each, {datetime.now(UTC):%Y-%m-%d}"
    yield judged("steady, usual scatter", ledgers)
    yield judged("steady, half steps", ledgers, step=0.5)
    yield judged("steady, scatter 90/9/1", ledgers, noise=(0.9, 0.09, 0.01))
    yield judged("steady, scatter 60/34/6", ledgers, noise=(0.6, 0.34, 0.06))
    yield judged("2 of 7 criteria 1.5 higher", ledgers, lift=1.5, lifted=2)
    yield judged("2 of 7 criteria 1 higher", ledgers, lift=1.0, lifted=2)
    yield judged("all criteria half a grade higher", ledgers, lift=0.5, lifted=CRITERIA)
    yield judged("all criteria 1 higher", ledgers, lift=1.0, lifted=CRITERIA)
    for sessions in (6, 9, 20, 50):
        yield charts(sessions, 20 * ledgers)


if __name__ == "__main__":
    with Path(__file__).with_name("session_checks.txt").open("w", encoding="utf-8") as kept:
        for line in lines(int(sys.argv[1]) if len(sys.argv) > 1 else 200):
            print(line, flush=True)
            kept.write(line + "\n")
