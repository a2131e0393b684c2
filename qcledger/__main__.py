"""Entry point: ``python -m qcledger`` and the ``qcledger`` script."""

from qcledger.cli import main

__all__ = ["main"]

if __name__ == "__main__":
    main()
