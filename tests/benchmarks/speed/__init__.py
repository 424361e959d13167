"""How fast the service is: every figure beside a floor, the usual way or itself, in one run."""
