"""Forms: fields as a table, drafts that stay, a key that keeps; what is asked, told and decided is typed in them."""
