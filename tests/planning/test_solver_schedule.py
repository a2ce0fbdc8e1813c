"""The scheduling solver, held to job-shop instances whose shortest times are published.

The instances are those of the job-shop file of the OR-Library (H. Fisher and G. L. Thompson 1963; S. Lawrence 1984),
one line a job: machine (from 0) and time of each of its operations in turn. The shortest times of FT10 (930) and LA01
(666) are stated with public copies of the file; that of FT06 (55) is widely published (from memory); the others were
worked out to the end with an exact solver. Jobs are what is done to a patient, machines are people.
"""

from __future__ import annotations

from itertools import combinations

import pytest

from stepfield.planning.solver_schedule import solved
from stepfield.planning.work import Work, keeps_limits, least_total, order_in, quick, total_of

INSTANCES = {
    "FT06": (
        55,
        """
        2 1 0 3 1 6 3 7 5 3 4 6
        1 8 2 5 4 10 5 10 0 10 3 4
        2 5 3 4 5 8 0 9 1 1 4 7
        1 5 0 5 2 5 3 3 4 8 5 9
        2 9 1 3 4 5 5 4 0 3 3 1
        1 3 3 3 5 9 0 10 4 4 2 1
        """,
    ),
    "FT10": (
        930,
        """
        0 29 1 78 2 9 3 36 4 49 5 11 6 62 7 56 8 44 9 21
        0 43 2 90 4 75 9 11 3 69 1 28 6 46 5 46 7 72 8 30
        1 91 0 85 3 39 2 74 8 90 5 10 7 12 6 89 9 45 4 33
        1 81 2 95 0 71 4 99 6 9 8 52 7 85 3 98 9 22 5 43
        2 14 0 6 1 22 5 61 3 26 4 69 8 21 7 49 9 72 6 53
        2 84 1 2 5 52 3 95 8 48 9 72 0 47 6 65 4 6 7 25
        1 46 0 37 3 61 2 13 6 32 5 21 9 32 8 89 7 30 4 55
        2 31 0 86 1 46 5 74 4 32 6 88 8 19 9 48 7 36 3 79
        0 76 1 69 3 76 5 51 2 85 9 11 6 40 7 89 4 26 8 74
        1 85 0 13 2 61 6 7 8 64 9 76 5 47 3 52 4 90 7 45
        """,
    ),
    "LA01": (
        666,
        """
        1 21 0 53 4 95 3 55 2 34
        0 21 3 52 4 16 2 26 1 71
        3 39 4 98 1 42 2 31 0 12
        1 77 0 55 4 79 2 66 3 77
        0 83 3 34 2 64 1 19 4 37
        1 54 2 43 4 79 0 92 3 62
        3 69 4 77 1 87 2 87 0 93
        2 38 0 60 1 41 3 24 4 83
        3 17 1 49 4 25 0 44 2 98
        4 77 3 79 2 43 1 75 0 96
        """,
    ),
    "LA02": (
        655,
        """
        0 20 3 87 1 31 4 76 2 17
        4 25 2 32 0 24 1 18 3 81
        1 72 2 23 4 28 0 58 3 99
        2 86 1 76 4 97 0 45 3 90
        4 27 0 42 3 48 2 17 1 46
        1 67 0 98 4 48 3 27 2 62
        4 28 1 12 3 19 0 80 2 50
        1 63 0 94 2 98 3 50 4 80
        4 14 0 75 2 50 1 41 3 55
        4 72 2 18 1 37 3 79 0 61
        """,
    ),
    "LA03": (
        597,
        """
        1 23 2 45 0 82 4 84 3 38
        2 21 1 29 0 18 4 41 3 50
        2 38 3 54 4 16 0 52 1 52
        4 37 0 54 2 74 1 62 3 57
        4 57 0 81 1 61 3 68 2 30
        4 81 0 79 1 89 2 89 3 11
        3 33 2 20 0 91 4 20 1 66
        4 24 1 84 0 32 2 55 3 8
        4 56 0 7 3 54 2 64 1 39
        4 40 1 83 0 19 2 8 3 7
        """,
    ),
    "LA04": (
        590,
        """
        0 12 2 94 3 92 4 91 1 7
        1 19 3 11 4 66 2 21 0 87
        1 14 0 75 3 13 4 16 2 20
        2 95 4 66 0 7 3 7 1 77
        1 45 3 6 4 89 0 15 2 34
        3 77 2 20 0 76 4 88 1 53
        2 74 1 88 0 52 3 27 4 9
        1 88 3 69 0 62 4 98 2 52
        2 61 4 9 0 62 1 52 3 90
        2 54 4 5 3 59 1 15 0 88
        """,
    ),
    "LA05": (
        593,
        """
        1 72 0 87 4 95 2 66 3 60
        4 5 3 35 0 48 2 39 1 54
        1 46 3 20 2 21 0 97 4 55
        0 59 3 19 4 46 1 34 2 37
        4 23 2 73 3 25 1 24 0 28
        3 28 0 45 4 5 1 78 2 83
        0 53 3 71 1 37 4 29 2 12
        4 12 2 87 3 33 1 55 0 38
        2 49 3 83 1 40 0 48 4 7
        2 65 3 17 0 90 4 27 1 23
        """,
    ),
}
LARGE = "FT10"


def job_shop(text: str) -> Work:
    """An instance as work: a task for each operation."""
    lasts: list[int] = []
    arcs: list[tuple[int, int, int]] = []
    machines: dict[int, list[int]] = {}
    for line in text.strip().splitlines():
        numbers = [int(number) for number in line.split()]
        for at, (machine, time) in enumerate(zip(numbers[::2], numbers[1::2], strict=True)):
            if at:
                arcs.append((len(lasts) - 1, len(lasts), 0))
            machines.setdefault(machine, []).append(len(lasts))
            lasts.append(time)
    hands = tuple(tuple(machines[machine]) for machine in sorted(machines))
    return Work(tuple(lasts), tuple(arcs), hands=hands, stages=((1 << len(lasts)) - 1,))


def is_sound(work: Work, starts: tuple[int, ...] | list[int], total: int) -> bool:
    """Whether a schedule keeps every order and machine, by the plain meaning of both, and ends when it is said to."""
    ends = [start + lasts for start, lasts in zip(starts, work.lasts, strict=True)]
    in_turn = all(ends[earlier] + wait <= starts[later] for earlier, later, wait in work.arcs)
    apart = all(
        ends[one] <= starts[other] or ends[other] <= starts[one]
        for own in work.hands
        for one, other in combinations(own, 2)
    )
    return in_turn and apart and max(ends) == total and min(starts) >= 0


@pytest.mark.parametrize("name", [name for name in INSTANCES if name != LARGE])
def test_the_shortest_time_is_the_published_one(name: str) -> None:
    optimum, text = INSTANCES[name]
    work = job_shop(text)
    found = solved(work)
    assert found.starts is not None
    assert (total_of(work, found.starts), found.bound) == (optimum, optimum)
    assert is_sound(work, found.starts, optimum)


@pytest.mark.slow
def test_the_large_instance_too() -> None:
    """The hard one of the file."""
    optimum, text = INSTANCES[LARGE]
    found = solved(job_shop(text), effort=300)
    assert found.starts is not None
    assert (total_of(job_shop(text), found.starts), found.bound) == (optimum, optimum)


def test_where_the_effort_is_not_enough_two_bounds_are_told() -> None:
    optimum, text = INSTANCES[LARGE]
    found = solved(job_shop(text), effort=0.5)
    assert found.starts is not None
    assert found.bound < optimum <= total_of(job_shop(text), found.starts)


@pytest.mark.parametrize("name", INSTANCES)
def test_without_the_solver_the_bounds_lie_around_the_published_time(name: str) -> None:
    optimum, text = INSTANCES[name]
    work = job_shop(text)
    starts = quick(work)
    assert is_sound(work, starts, total_of(work, starts))
    assert least_total(work) <= optimum <= total_of(work, starts)


# Longest job and largest load of a machine, as printed with the instances: no schedule is shorter.
@pytest.mark.parametrize(("name", "bound"), [("FT06", 47), ("FT10", 655), ("LA01", 666), ("LA02", 635), ("LA05", 593)])
def test_the_lower_bound_is_the_longest_job_or_the_largest_load(name: str, bound: int) -> None:
    assert least_total(job_shop(INSTANCES[name][1])) == bound


def test_limits_are_kept_or_said_to_be_impossible() -> None:
    """Two tasks of one person, the second in the list within 3 of a third one: by hand."""
    tight = Work(lasts=(2, 4, 1), arcs=((2, 1, 0),), limits=((2, 1, 4),), hands=((0, 1),))
    found = solved(tight)
    assert found.starts is not None
    assert keeps_limits(tight, found.starts)
    assert total_of(tight, found.starts) == 6  # task 0 and then 1, as task 2 may wait: 1 to 2
    never = Work(lasts=(2, 4, 1), arcs=((2, 1, 0),), limits=((2, 1, 3),), hands=((0, 1),))
    assert solved(never).impossible


def test_a_clause_is_kept_in_one_of_its_pairs() -> None:
    free = Work(lasts=(2, 4, 1), arcs=())
    assert solved(free).bound == 4
    found = solved(free, [((0, 1), (2, 1))])
    assert found.starts is not None
    assert total_of(free, found.starts) == 5  # the shorter one first
    assert (2, 1) in order_in(free, found.starts)
