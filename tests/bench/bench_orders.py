"""How near constrained run sheets come to the best order of a long search: ``python tests/bench/bench_orders.py``.

Prints for each kind of sheet the largest imbalance of a few seeds over that of the best order of longer searches, and
over that of random orders that keep the same rules. Asserts nothing.
"""

from qcledger.bench.chance import SeededDraws
from qcledger.bench.orders import Item, OrderAsked, arrange, balance, imbalance, room_for_repeats

SEEDS = range(20)
LONG = 5_000
"""Exchanges from each start of a long search; the program tries 400."""
SHEETS = {
    "20, 5 makers": (20, 5, 0, True),
    "20, 5 makers, 8 weak": (20, 5, 8, True),
    "20, 10 makers": (20, 10, 0, True),
    "16, 4 makers, 6 weak": (16, 4, 6, True),
    "12, 4 makers, 6 weak": (12, 4, 6, True),
    "10, 9 makers": (10, 9, 0, True),
    "8, 4 makers": (8, 4, 0, False),
    "6, 3 makers": (6, 3, 0, True),
}


def asked(number: int, makers: int, weak: int, controlled: bool) -> OrderAsked:
    """Return specimens in two formats, the first `weak` of them weak colours, with one hidden repeat in ten."""
    items = tuple(
        Item(f"s{n:02}", (f"maker {n % makers}", ("tube", "half pan")[n // makers % 2]), int(n >= weak))
        for n in range(number)
    )
    control = Item("control", ("maker 0", "tube")) if controlled else None
    return OrderAsked(items, control, min(-(-number // 10), room_for_repeats(items)))


def main() -> None:
    """Print a line for each kind of sheet."""
    print(f"{'sheet':<24}{'best':>8}{'median':>8}{'worst':>8}{'worst/best':>12}{'shuffle':>9}")
    for name, shape in SHEETS.items():
        wish = asked(*shape)
        ours = sorted(imbalance(arrange(wish, SeededDraws(seed))) for seed in SEEDS)
        long = min(imbalance(arrange(wish, SeededDraws(1000 + seed), turns=LONG)) for seed in range(2))
        best = min(long, ours[0])
        random = balance(wish, arrange(wish, SeededDraws(1), turns=0), SeededDraws(2)).shuffled
        middle = ours[len(ours) // 2]
        print(f"{name:<24}{best:>8.2f}{middle:>8.2f}{ours[-1]:>8.2f}{ours[-1] / best:>12.2f}{random:>9.1f}")


if __name__ == "__main__":
    main()
