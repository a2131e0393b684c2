"""Commands; each module is loaded only when its command runs."""


def main() -> None:
    """Run the command line."""
