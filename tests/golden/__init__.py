"""Golden frames: what the public library answers, kept so that a change of it shows."""
