"""What goes public: one view of what may be said, and its faces as a page, Markdown, CSV, JSON and letters.

`gather` makes the view from a ledger and its findings; every face reads the view and nothing else.
"""
