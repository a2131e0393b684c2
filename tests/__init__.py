"""The tests; a package, so that `tests.studio` is found before the `tests` that a library installs beside it."""
