"""How much memory a process held at most, and its children, if they count."""

from pathlib import Path

__all__ = ["Memory"]


class Memory:
    """Watches a process; ``with_children`` what it started, too."""

    def __init__(self, process: int, *, with_children: bool) -> None:
        self._process = process
        self._with_children = with_children

    def forget_peak(self) -> None:
        """Begin to watch the peak of memory anew."""
        for process in self._processes():
            # 5: the kernel sets the peak back to what is used now (proc_pid_clear_refs(5)).
            Path(f"/proc/{process}/clear_refs").write_text("5")

    def peak_bytes(self) -> int:
        """Give the most memory held at once since, by the process that held most."""
        return max(_status_kib(process, "VmHWM") for process in self._processes()) * 1024

    def _processes(self) -> list[int]:
        found, new = [], [self._process]
        while new:
            found += new
            new = [child for process in new for child in _children(process)]
            if not self._with_children:
                break
        return found


def _children(process: int) -> list[int]:
    return [
        int(child)
        for task in Path(f"/proc/{process}/task").iterdir()
        for child in (task / "children").read_text().split()
    ]


def _status_kib(process: int, field: str) -> int:
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        name, _, value = line.partition(":")
        if name == field:
            return int(value.split()[0])
    return 0
