"""Runs a command again and again in a process of its own, killed before another one of its changes to the disk.

What a command changes is told by the interpreter's audit events (PEP 578; the table of events in the documentation of
Python's standard library), so nothing of the program has to know of it.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path

MOST = 400
DRIVER = """
import json, os, shutil, signal, sys
from pathlib import Path

sys.dont_write_bytecode = True
from stepfield.command import main

template, room, most, words = json.loads(sys.argv[1])
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC
CHANGES = {"os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.chmod", "os.link", "os.symlink", "os.truncate"}


def run(fatal):
    changes = 0

    def audited(event, values):
        nonlocal changes
        opens = event == "open" and isinstance(values[2], int) and values[2] & WRITES and values[0] != os.devnull
        if opens or event in CHANGES:
            changes += 1
            if changes == fatal:
                os.kill(os.getpid(), signal.SIGKILL)

    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    sys.addaudithook(audited)
    try:
        main(words)
    except SystemExit as end:
        os._exit(int(end.code or 0))


def begun(number):
    home = Path(room) / str(number)
    shutil.copytree(template, home, symlinks=True)
    os.chdir(home)


# A first run to its end in this very process, so that all modules are there before the counting begins.
begun(0)
quiet = os.dup(1)
os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
try:
    main(words)
except SystemExit as end:
    os.dup2(quiet, 1)
    print(0, int(end.code or 0), flush=True)
for fatal in range(1, most):
    begun(fatal)
    child = os.fork()
    if not child:
        run(fatal)
        os._exit(99)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    print(fatal, status, flush=True)
    if status != -signal.SIGKILL:
        break
"""


def killed_everywhere(template: Path, room: Path, *words: str) -> list[Path]:
    """The folders that are left of a template: of a whole run first, then killed before each change in turn.

    The last one ran to its end again. ``words`` are those of the command line, as said in the copy of the template.
    """
    told = json.dumps([str(template), str(room), MOST, words])
    done = subprocess.run([sys.executable, "-c", DRIVER, told], capture_output=True, check=False, text=True)
    assert done.returncode == 0, done.stderr
    ends = [[int(word) for word in line.split()] for line in done.stdout.splitlines()]
    (_, whole), *killed, (_, last) = ends
    assert (whole, last) == (0, 0), done.stderr
    assert killed
    assert {status for _, status in killed} == {-signal.SIGKILL}
    return [room / str(number) for number, _ in ends]
