"""`python -m rehearse` is the same as `rehearse`; a packaged program begins here, too."""

import sys


def begin() -> int:
    """Be the program, or one of its child processes; returns the exit status."""
    from rehearse.work.child import CHILD

    if sys.argv[1:2] == [CHILD]:
        from rehearse.work.child import main as child

        child(sys.argv[2])  # never returns
    from rehearse.cli import main

    return main()


if __name__ == "__main__":
    sys.exit(begin())
