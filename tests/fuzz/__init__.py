"""Coverage-guided fuzzing of what reads from strangers: ``python -m tests.fuzz``.

Each target is a module with ``SEEDS`` (what is known to be read), ``CODE`` (the modules whose branches
guide the search) and ``check``, which takes any bytes and raises nothing unless something is wrong.
"""
