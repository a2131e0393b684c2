"""Grading at the bench: the run sheet and its walk, results, timers, and what keys mean while hands are wet."""
