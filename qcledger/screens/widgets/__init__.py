"""Widgets that more than one page may use; a widget asks by a message, its page decides."""
