"""The studio's photos, drawn so that they look like what they show."""
