"""Defect tracker and brand scorecard for people who test artists' paints."""

__version__ = "0.1.0"
