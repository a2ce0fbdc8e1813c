"""Starts one program and writes down what it cost: ``launch.py RESULT SECONDS COMMAND...``.

A process counts the memory of the one it was started from as its own until it begins, so what is measured is started
from here, a process that holds next to nothing. The standard library's lightest modules alone are used.
"""

import os
import signal
import sys
import time


def main(result: str, most_seconds: str, *command: str) -> None:
    """Runs the command; writes what it cost into ``result``.

    That is: seconds, processor seconds, kilobytes, and the exit code (-1000 if it was stopped).
    """
    started = time.perf_counter()
    child = os.posix_spawnp(command[0], command, os.environ, setsid=True)
    stopped = False

    def stop(*_: object) -> None:
        nonlocal stopped
        stopped = True
        os.killpg(child, signal.SIGKILL)

    signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, float(most_seconds))
    _, status, used = os.wait4(child, 0)
    seconds = time.perf_counter() - started
    code = -1000 if stopped else os.waitstatus_to_exitcode(status)
    descriptor = os.open(result, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    os.write(descriptor, f"{seconds} {used.ru_utime + used.ru_stime} {used.ru_maxrss} {code}".encode())
    os.close(descriptor)


if __name__ == "__main__":
    main(*sys.argv[1:])
