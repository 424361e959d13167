"""Makes the mutants and learns which test runs which function: what mutmut does before it tries any.

Run by its path, with the folder of the mutants as the only one to import ours from: pytest is to find
the copy of the tests there, and not these.
"""

from __future__ import annotations

from mutmut.__main__ import CatchOutput, collect_or_load_stats, create_mutants
from mutmut.mutation.trampoline import set_mutant_under_test
from mutmut.utils.file_utils import copy_also_copy_files, copy_src_dir, setup_source_paths
from mutmut.workers.isolation import get_mutant_runner


def main() -> None:
    set_mutant_under_test("mutant_generation")
    with CatchOutput():
        copy_src_dir()
        copy_also_copy_files()
        setup_source_paths()
        create_mutants(1)
    # Of what is known only tests and functions that are new are learned.
    collect_or_load_stats(get_mutant_runner(1))


if __name__ == "__main__":
    main()
