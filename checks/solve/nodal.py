"""Nodal equations of a linear network, Y V = J, by symmetric elimination Y = L D L^T.

Y is complex and symmetric (not Hermitian): passive branches, no pivoting needed.  What hangs on one
neighbour alone goes first, leaves before trunk, then nodes with the fewest neighbours: so a radial
network fills in nothing and costs a few microseconds a node.  What a pair of terminals sees
(e^T Z e) needs only the forward solution along the two paths of the elimination tree from them to
its root.

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
        self.place = [GROUND] * size  # of each node in the order of elimination
        self.pivots: list[complex] = []
        self.parent: list[int] = []  # the position that each position leads to
        self.share: list[complex] = []  # of L, for the positions that lead to one other alone
        self.columns: list[tuple[tuple[int, complex], ...]] = []  # of L, for those after them
        self._strip(diagonal, rows)
        self._eliminate(diagonal, rows)

    def _strip(self, diagonal: list[complex], rows: list[dict[int, complex]]) -> None:
        """Eliminate what hangs on one neighbour alone, from the leaves inwards."""
        place, pivots = self.place, self.pivots
        outermost = [node for node, row in enumerate(rows) if len(row) < 2]
        while outermost:
            node = outermost.pop()
            place[node] = len(pivots)
            pivot = diagonal[node] or 1 + 0j  # a node that nothing touches: 0 V
            pivots.append(pivot)
            far, y = rows[node].popitem() if rows[node] else (GROUND, 0j)
            self.parent.append(far)  # as a node: most have no position yet
            self.share.append(y / pivot)
            if far >= 0:
                del rows[far][node]
                diagonal[far] -= y / pivot * y
                if len(rows[far]) == 1:
                    outermost.append(far)

    def _eliminate(self, diagonal: list[complex], rows: list[dict[int, complex]]) -> None:
        """Eliminate what is left, nodes with the fewest neighbours first."""
        place, pivots, columns = self.place, self.pivots, []
        heap = [(len(rows[node]), node) for node, k in enumerate(place) if k < 0]
        heapify(heap)
        while heap:
            degree, node = heappop(heap)
            row = rows[node]
            if place[node] >= 0 or degree != len(row):
                continue  # gone, or a later entry of the heap tells its degree
            place[node] = len(pivots)
            pivot = diagonal[node] or 1 + 0j
            pivots.append(pivot)
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
        self.parent = [place[far] if far >= 0 else GROUND for far in self.parent]
        self.parent += [min((far for far, _ in column), default=GROUND) for column in self.columns]

    def solve(self, injected: Weights) -> list[complex]:
        """The voltage of every node, V, for currents, A, put into nodes out of the reference."""
        place, pivots, parent, shares = self.place, self.pivots, self.parent, self.share
        v: list[complex] = [0j] * len(place)
        for node, amps in injected.items():
            if node >= 0:
                v[place[node]] += amps
        trees = len(shares)
        for k, share in enumerate(shares):
            if v[k] and parent[k] >= 0:
                v[parent[k]] -= share * v[k]
        for k, column in enumerate(self.columns, trees):
            here = v[k]
            if here:
                for far, share in column:
                    v[far] -= share * here
        for k in range(len(v) - 1, trees - 1, -1):
            here = v[k] / pivots[k]
            for far, share in self.columns[k - trees]:
                here -= share * v[far]
            v[k] = here
        for k in range(trees - 1, -1, -1):
            v[k] /= pivots[k]
            if parent[k] >= 0:
                v[k] -= shares[k] * v[parent[k]]
        return [v[k] for k in place]

    def forward(self, weights: Weights) -> dict[int, complex]:
        """L^-1 w, by position: not zero only on the paths from the weighted nodes to the root."""
        parent, shares = self.parent, self.share
        trees = len(shares)
        y: dict[int, complex] = {}
        path: set[int] = set()
        for node, weight in weights.items():
            k = self.place[node] if node >= 0 else GROUND
            while 0 <= k < trees:
                y[k] = y.get(k, 0j) + weight
                weight *= -shares[k]
                k = parent[k]
            if k >= 0:
                y[k] = y.get(k, 0j) + weight
            while k >= 0 and k not in path:
                path.add(k)
                k = parent[k]
        for k in sorted(path):
            here = y.get(k)
            if here:
                for far, share in self.columns[k - trees]:
                    y[far] = y.get(far, 0j) - share * here
        return y

    def between(self, one: Mapping[int, complex], other: Mapping[int, complex]) -> complex:
        """u^T Z w, ohm, of two weightings that have been through ``forward``."""
        few, many = (one, other) if len(one) <= len(other) else (other, one)
        pivots, total = self.pivots, 0j
        for k, y in few.items():
            if k in many:
                total += y * many[k] / pivots[k]
        return total

    def seen(self, a: int, b: int) -> complex:
        """The impedance, ohm, that two terminals see when every source is at rest."""
        y = self.forward({a: 1 + 0j, b: -1 + 0j})
        return self.between(y, y)
