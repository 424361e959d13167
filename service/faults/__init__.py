"""What is most probably wrong with a unit, how sure that is, and which reading would settle it."""
