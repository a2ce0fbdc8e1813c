"""Linear extensions: against published formulas worked out here, and against counting one by one.

Sequence numbers of the On-Line Encyclopedia of Integer Sequences are given from memory; the first terms beside them
stand in any text on the subject, and all further ones come from the formula that the test works out.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from typing import Any

import networkx  # type: ignore[import-untyped]
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.asepsis import Count
from stepfield.asepsis.extensions import PartialOrder, Work

Pair = tuple[int, int]
CALM = settings(
    max_examples=300, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


def partial_order(size: int, pairs: Iterable[Pair], work: int = 10_000_000) -> PartialOrder:
    """The partial order of members 0 to size - 1 in which, for each pair, the first comes before the second."""
    graph = networkx.DiGraph()
    graph.add_nodes_from(range(size))
    graph.add_edges_from(pairs)
    place = {member: at for at, member in enumerate(networkx.lexicographical_topological_sort(graph))}
    below = [0] * size
    for member, at in place.items():
        below[at] = sum(1 << place[other] for other in networkx.ancestors(graph, member))
    return PartialOrder(below, Work(work))


def counted(size: int, pairs: Iterable[Pair], work: int = 10_000_000) -> Count:
    """What the project counts for the whole partial order."""
    return partial_order(size, pairs, work).count((1 << size) - 1)


def exactly(size: int, pairs: Iterable[Pair]) -> int:
    count = counted(size, pairs)
    assert count.exact
    return count.at_least


def one_by_one(size: int, pairs: list[Pair]) -> int:
    """Every arrangement, and of these the ones that keep to the pairs."""
    arrangements = (dict(zip(row, range(size), strict=True)) for row in itertools.permutations(range(size)))
    return sum(all(place[first] < place[second] for first, second in pairs) for place in arrangements)


def chain(*members: int) -> list[Pair]:
    return list(itertools.pairwise(members))


@pytest.mark.parametrize("size", [0, 1, 2, 7, 25, 150])
def test_members_without_order_can_follow_one_another_in_any_order(size: int) -> None:
    """n! (OEIS A000142)."""
    assert exactly(size, []) == math.factorial(size)


@pytest.mark.parametrize("size", [1, 2, 3, 200])
def test_a_chain_has_one_order(size: int) -> None:
    assert exactly(size, chain(*range(size))) == 1


def zigzag(size: int) -> list[Pair]:
    """0 < 1 > 2 < 3 > ..."""
    return [(a, b) if a % 2 == 0 else (b, a) for a, b in itertools.pairwise(range(size))]


def euler_zigzag(size: int) -> int:
    """By the triangle of Seidel and Entringer: each row is the running sum of the row before, read backwards."""
    row = [1]
    for _ in range(size):
        row = list(itertools.accumulate(reversed(row), initial=0))
    return row[-1]


def test_the_triangle_gives_the_numbers_every_table_has() -> None:
    """OEIS A000111."""
    first = [1, 1, 1, 2, 5, 16, 61, 272, 1385, 7936, 50521, 353792, 2702765]
    assert [euler_zigzag(size) for size in range(len(first))] == first


@pytest.mark.parametrize("size", [*range(1, 13), 20, 35])
def test_a_zigzag_has_as_many_orders_as_there_are_alternating_permutations(size: int) -> None:
    """D. André, 1879: the Euler zigzag numbers count alternating permutations."""
    assert exactly(size, zigzag(size)) == euler_zigzag(size)


def partitions(total: int, largest: int) -> Iterator[tuple[int, ...]]:
    """The Young diagrams of so many cells, as their rows."""
    if total == 0:
        yield ()
    for row in range(min(total, largest), 0, -1):
        for rest in partitions(total - row, row):
            yield (row, *rest)


def young(rows: tuple[int, ...]) -> int:
    """Orders of the cells in which each comes after the cells to its left and above it."""
    cells = [(row, column) for row, length in enumerate(rows) for column in range(length)]
    number = {cell: at for at, cell in enumerate(cells)}
    pairs = [
        (number[cell], at)
        for (row, column), at in number.items()
        for cell in ((row - 1, column), (row, column - 1))
        if cell in number
    ]
    return exactly(len(cells), pairs)


def hook_lengths(rows: tuple[int, ...]) -> int:
    """J. S. Frame, G. de B. Robinson, R. M. Thrall, The hook graphs of the symmetric group, 1954: n! over all hooks."""
    columns = [sum(length > column for length in rows) for column in range(rows[0] if rows else 0)]
    hooks = (length - column + columns[column] - row - 1 for row, length in enumerate(rows) for column in range(length))
    return math.factorial(sum(rows)) // math.prod(hooks)


def test_every_young_diagram_of_up_to_ten_cells_has_its_hook_length_number() -> None:
    shapes = [rows for total in range(1, 11) for rows in partitions(total, total)]
    assert len(shapes) == 138  # partition numbers 1, 2, 3, 5, 7, 11, 15, 22, 30, 42 (OEIS A000041)
    assert [young(rows) for rows in shapes] == [hook_lengths(rows) for rows in shapes]


@pytest.mark.parametrize("rows", [(5, 5, 5, 5, 5), (6, 5, 4, 3, 2, 1), (8, 8, 8), (9, 6, 3, 1)], ids=str)
def test_larger_young_diagrams_have_their_hook_length_number(rows: tuple[int, ...]) -> None:
    assert young(rows) == hook_lengths(rows)


@pytest.mark.parametrize("length", range(1, 16))
def test_two_people_of_whom_one_is_never_behind_have_a_catalan_number_of_orders(length: int) -> None:
    """Two chains, each member of one before its like in the other: the Catalan numbers (OEIS A000108)."""
    pairs = [*chain(*range(length)), *chain(*range(length, 2 * length)), *((n, n + length) for n in range(length))]
    assert exactly(2 * length, pairs) == math.comb(2 * length, length) // (length + 1)


@pytest.mark.parametrize(("dimension", "expected"), list(enumerate([1, 1, 2, 48, 1680384, 14807804035657359360])))
def test_subsets_of_a_set_ordered_by_inclusion(dimension: int, expected: int) -> None:
    """OEIS A046873, from memory; nothing here falls apart, so that it tries the search over sets of members."""
    sets = range(1 << dimension)
    pairs = [(one, one | 1 << bit) for one in sets for bit in range(dimension) if not one >> bit & 1]
    assert exactly(len(sets), pairs) == expected


def test_rows_that_know_nothing_of_one_another_are_mixed_in_every_way() -> None:
    """A multinomial coefficient."""
    rows = [range(3), range(3, 10), range(10, 30), range(30, 31)]
    pairs = [pair for row in rows for pair in chain(*row)]
    expected = math.factorial(31) // math.prod(math.factorial(len(row)) for row in rows)
    assert exactly(31, pairs) == expected


def test_a_tree_has_its_factorial_over_the_sizes_of_its_branches() -> None:
    """D. E. Knuth, The Art of Computer Programming 3, 5.1.4: each member of a binary tree comes before its branch."""
    size = 63
    pairs = [((member - 1) // 2, member) for member in range(1, size)]
    branches = [2 ** (6 - (member + 1).bit_length() + 1) - 1 for member in range(size)]
    expected = math.factorial(size) // math.prod(branches)
    assert exactly(size, pairs) == expected
    assert exactly(size, [(second, first) for first, second in pairs]) == expected


@st.composite
def relations(draw: Any, most: int = 8) -> tuple[int, list[Pair]]:
    """So many members with pairs that close no loop, numbered any way."""
    size = draw(st.integers(1, most))
    names = draw(st.permutations(range(size)))
    drawn = draw(st.lists(st.tuples(st.integers(0, size - 1), st.integers(0, size - 1)), max_size=2 * size))
    return size, [(names[a], names[b]) for a, b in (sorted(pair) for pair in drawn) if a != b]


@CALM
@given(relations(7))
def test_small_partial_orders_are_counted_as_one_by_one(relation: tuple[int, list[Pair]]) -> None:
    assert exactly(*relation) == one_by_one(*relation)


@CALM
@given(relations(8))
def test_networkx_lists_as_many_orders(relation: tuple[int, list[Pair]]) -> None:
    size, pairs = relation
    graph = networkx.DiGraph(pairs)
    graph.add_nodes_from(range(size))
    # With 5,000 orders or more, listing them takes longer than it tells.
    listed = sum(1 for _ in itertools.islice(networkx.all_topological_sorts(graph), 5_000))
    assert min(exactly(size, pairs), 5_000) == listed


@CALM
@given(relations(14), st.data())
def test_of_two_members_either_the_one_comes_first_or_the_other(
    relation: tuple[int, list[Pair]], data: st.DataObject
) -> None:
    size, pairs = relation
    graph = networkx.transitive_closure(networkx.DiGraph(pairs))
    free = [
        (a, b) for a, b in itertools.combinations(range(size), 2) if not (graph.has_edge(a, b) or graph.has_edge(b, a))
    ]
    if free:
        one, other = data.draw(st.sampled_from(free))
        assert exactly(size, pairs) == exactly(size, [*pairs, (one, other)]) + exactly(size, [*pairs, (other, one)])


@CALM
@given(relations(14))
def test_read_backwards_there_are_as_many_orders(relation: tuple[int, list[Pair]]) -> None:
    size, pairs = relation
    assert exactly(size, pairs) == exactly(size, [(second, first) for first, second in pairs])


@CALM
@given(relations(7), relations(7))
def test_one_after_the_other_multiplies_and_side_by_side_mixes(
    one: tuple[int, list[Pair]], other: tuple[int, list[Pair]]
) -> None:
    first, second = one[0], other[0]
    pairs = [*one[1], *((a + first, b + first) for a, b in other[1])]
    each = exactly(*one) * exactly(*other)
    assert exactly(first + second, pairs) == each * math.comb(first + second, first)
    behind = [(a, b + first) for a in range(first) for b in range(second)]
    assert exactly(first + second, [*pairs, *behind]) == each


@CALM
@given(relations(9), st.integers(0, 511))
def test_order_through_members_left_out_is_kept(relation: tuple[int, list[Pair]], chosen: int) -> None:
    size, pairs = relation
    order = partial_order(size, pairs)
    chosen &= (1 << size) - 1
    left = [at for at in range(size) if chosen >> at & 1]
    kept = [(left.index(a), left.index(b)) for b in left for a in left if order.below[b] >> a & 1]
    assert order.count(chosen) == Count.of(exactly(len(left), kept))


@CALM
@given(relations(12), st.integers(0, 120))
def test_with_little_work_the_bounds_still_hold(relation: tuple[int, list[Pair]], work: int) -> None:
    true = exactly(*relation)
    count = counted(*relation, work=work)
    assert 1 <= count.at_least <= true <= count.at_most


@CALM
@given(relations(12))
def test_without_any_search_the_bounds_hold_and_meet_in_a_forest(relation: tuple[int, list[Pair]]) -> None:
    size, pairs = relation
    count, true = partial_order(size, pairs).bracket((1 << size) - 1), exactly(size, pairs)
    assert count.at_least <= true <= count.at_most
    kept = networkx.transitive_reduction(networkx.DiGraph(pairs)) if pairs else networkx.DiGraph()
    if all(degree <= 1 for _, degree in kept.in_degree) or all(degree <= 1 for _, degree in kept.out_degree):
        assert count.exact
