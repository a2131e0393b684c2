"""Pictures for a video or a post: one statement each, its specimens drawn in their lots, its limit within."""
