"""Nodal equations of a linear network, Y V = J, by symmetric elimination Y = L D L^T.

Y is complex and symmetric (not Hermitian): passive branches, no pivoting needed.  Nodes with the
fewest neighbours go first, so that a radial network, leaves before trunk, fills in nothing and
costs a few microseconds a node.  What a pair of terminals sees (e^T Z e) needs only the forward
solution along the two paths of the elimination tree from them to its root.

Nodes are numbered from 0; ``GROUND`` is the reference, at 0 V.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from heapq import heapify, heappop, heappush

GROUND = -1
Branch = tuple[int, int, complex]  # node, node, admittance in S
Winding = tuple[tuple[tuple[int, float], ...], complex]  # turns at each node, admittance in S
Weights = Mapping[int, complex]  # by node


class Factor:
    """The factor of a network; every solution and every impedance of it comes from here."""

    def __init__(
        self, size: int, branches: Iterable[Branch], windings: Iterable[Winding] = ()
    ) -> None:
        diagonal: list[complex] = [0j] * size
        rows: list[dict[int, complex]] = [{} for _ in range(size)]
        for a, b, y in branches:
            if a >= 0:
                diagonal[a] += y
            if b >= 0:
                diagonal[b] += y
                if a >= 0 and a != b:
                    rows[a][b] = rows[b][a] = rows[a].get(b, 0j) - y
        for turns, y in windings:  # y t t^T: an ideal transformer with y in series
            for a, one in turns:
                for b, other in turns:
                    if a == b >= 0:
                        diagonal[a] += y * one * other
                    elif a >= 0 and b >= 0:
                        rows[a][b] = rows[a].get(b, 0j) + y * one * other
        self._eliminate(diagonal, rows)

    def _eliminate(self, diagonal: list[complex], rows: list[dict[int, complex]]) -> None:
        """Fill ``columns`` (of L, by elimination position) and ``pivots`` (of D)."""
        order: list[int] = []
        self.place = place = [-1] * len(rows)
        columns: list[list[tuple[int, complex]]] = []
        heap = [(len(row), node) for node, row in enumerate(rows)]
        heapify(heap)
        while heap:
            degree, node = heappop(heap)
            row = rows[node]
            if place[node] >= 0 or degree != len(row):
                continue  # gone, or a later entry of the heap tells its degree
            place[node] = len(order)
            order.append(node)
            pivot = diagonal[node] = diagonal[node] or 1 + 0j  # a node that nothing touches: 0 V
            column = [(far, y / pivot) for far, y in row.items()]
            columns.append(column)
            for far, share in column:
                other = rows[far]
                del other[node]
                diagonal[far] -= share * row[far]
                if degree > 1:
                    for third, y in row.items():
                        if third != far:
                            other[third] = other.get(third, 0j) - share * y
                heappush(heap, (len(other), far))
        self.columns = [tuple([(place[f], share) for f, share in column]) for column in columns]
        self.pivots = [diagonal[node] for node in order]
        self.parent = [min((far for far, _ in column), default=-1) for column in self.columns]

    def solve(self, injected: Weights) -> list[complex]:
        """The voltage of every node, V, for currents, A, put into nodes out of the reference."""
        place, columns = self.place, self.columns
        v: list[complex] = [0j] * len(place)
        for node, amps in injected.items():
            if node >= 0:
                v[place[node]] += amps
        for k, column in enumerate(columns):
            here = v[k]
            if here:
                for far, share in column:
                    v[far] -= share * here
        for k in range(len(columns) - 1, -1, -1):
            here = v[k] / self.pivots[k]
            for far, share in columns[k]:
                here -= share * v[far]
            v[k] = here
        return [v[k] for k in place]

    def forward(self, weights: Weights) -> dict[int, complex]:
        """L^-1 w, by position: not zero only on the paths from the weighted nodes to the root."""
        y = {self.place[node]: weight for node, weight in weights.items() if node >= 0}
        path = set()
        for k in y:
            while k >= 0 and k not in path:
                path.add(k)
                k = self.parent[k]
        for k in sorted(path):
            here = y.get(k)
            if here:
                for far, share in self.columns[k]:
                    y[far] = y.get(far, 0j) - share * here
        return y

    def between(self, one: Mapping[int, complex], other: Mapping[int, complex]) -> complex:
        """u^T Z w, ohm, of two weightings that have been through ``forward``."""
        few, many = (one, other) if len(one) <= len(other) else (other, one)
        pivots = self.pivots
        return sum((y * many[k] / pivots[k] for k, y in few.items() if k in many), 0j)

    def seen(self, a: int, b: int) -> complex:
        """The impedance, ohm, that two terminals see when every source is at rest."""
        y = self.forward({a: 1 + 0j, b: -1 + 0j})
        return self.between(y, y)
