"""The program in a process of its own, forked by a test. Imports little: each fork imports it."""

import os
import sys


def run_program(folder, arguments, stdin, stdout, stderr) -> None:
    """The command line in this process, with its standard files at these paths. For a process
    forked from one that has the imports done already: hundreds of starts then take minutes."""
    from assistant.cli import main

    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
    for number, handle in enumerate(
        (os.open(stdin, os.O_RDONLY), os.open(stdout, flags), os.open(stderr, flags))
    ):
        os.dup2(handle, number)
        os.close(handle)
    sys.stdin, sys.stdout, sys.stderr = open(0), open(1, "w"), open(2, "w")  # noqa: SIM115
    os.environ["CLAMPCALL_DATA"] = str(folder)
    sys.argv = ["clampcall", "bays", *arguments]
    main()
