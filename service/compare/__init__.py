"""Two runs, three or more, or none yet: what changed, what drifts, what could be seen."""
