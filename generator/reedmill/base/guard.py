"""A small program that runs another, and ends it and all it started when its parent is gone.

    python guard.py LINE COMMAND...

LINE is the number of an open pipe whose other end is ours alone: however we die, the system
closes it.  The command runs in a process group of its own, which is killed then, or when this
program is told to end; otherwise this ends as the command does, and nothing of its group
stays.  It is run by its path, without site packages, so that it starts in a moment.
"""

import os
import select
import sys

try:  # what the module signal stands on: its names for numbers take a third of our start
    import _signal as signal  # type: ignore[import-not-found]
except ImportError:
    import signal

_TOLD_TO_END = {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}
_CANNOT_RUN = 126  # as shells say it


def main(line: int, command: list[str]) -> None:
    """Run *command* until it ends or *line* is closed."""
    woken, wake = os.pipe()
    os.set_blocking(wake, False)
    os.set_blocking(woken, False)
    signal.set_wakeup_fd(wake)
    for number in (signal.SIGCHLD, *_TOLD_TO_END):
        signal.signal(number, lambda *_: None)
    child = os.fork()
    if child == 0:
        _become(command)
    for inherited in (0, 1, 2):  # what the command reads and writes is not ours
        os.close(inherited)
    try:  # noqa: SIM105  contextlib takes as long to import as all else here
        os.setpgid(child, child)  # by both, so that it is done whoever is first
    except OSError:  # it runs by now, and has done it itself
        pass
    _wait(child, line, woken)
    os.killpg(child, signal.SIGKILL)  # it is not reaped yet, so the number is still its own
    _end_as(os.waitpid(child, 0)[1])


def _become(command: list[str]) -> None:
    try:
        os.setpgid(0, 0)
        for number in (signal.SIGPIPE, signal.SIGXFSZ):  # which Python ignores
            signal.signal(number, signal.SIG_DFL)
        os.execv(command[0], command)  # noqa: S606
    except OSError as error:
        os.write(2, f"{command[0]}: {os.strerror(error.errno or 0)}\n".encode())
    finally:
        os._exit(_CANNOT_RUN)


def _wait(child: int, line: int, woken: int) -> None:
    """Return when *child* has ended, or when it must be ended."""
    watched = select.poll()
    watched.register(line, select.POLLIN | select.POLLHUP)
    watched.register(woken, select.POLLIN)
    while True:
        ready = [number for number, _ in watched.poll()]
        if line in ready or set(os.read(woken, 100)) & _TOLD_TO_END:
            return
        if os.waitid(os.P_PID, child, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None:
            return


def _end_as(status: int) -> None:
    """Exit with the exit code of the command, or by the signal that ended it."""
    if os.WIFSIGNALED(status):
        import resource  # only an end by a signal needs it

        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))  # one core file is enough
        number = os.WTERMSIG(status)
        if number != signal.SIGKILL:
            signal.signal(number, signal.SIG_DFL)
        os.kill(os.getpid(), number)
    os._exit(os.waitstatus_to_exitcode(status) % 256)


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2:])
