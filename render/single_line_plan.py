"""Which part of the one-line view is drawn where: heads, the trees below them, what joins them.

Every node hangs in exactly one tree.  A *head* starts a tree: a source, a node fed from two
sides (a bar with several supplies, a changeover), a converter that feeds a bar of its own, or
whatever nothing feeds.  A run that would enter a head is an open end of the tree it comes from.
A slim source tree is *claimed* by the head it feeds and drawn above it; what is left joins trees
across the sheet, as a line or as a pair of references.
"""

from __future__ import annotations

from collections.abc import Mapping

from ..dsl.kinds import kinds
from ..dsl.records import record
from .single_line_graph import OneLine, Run

SIDE_COLUMNS = 4  # of branches a source may carry and still stand above what it feeds
CHAIN = 5  # devices below each other above a bar: more, and the sheet runs out of height
FAN = 6  # open ends of a device that is no bar that are drawn
AHEAD = 3  # devices from a source to a converter that still belong to one column
INPUTS = 3  # source columns above a device that is no bar


@record
class Plan:
    """Trees and their joints.

    ``children`` are the runs to a node's own branches in the order of the text; ``open_outs``
    those that end in another tree.  ``claims`` lists, for a head, the runs through which the
    trees above it come down; ``foreign`` those that come from elsewhere.  ``roots`` are the
    heads that no other has claimed.
    """

    graph: OneLine
    heads: tuple[str, ...]
    children: Mapping[str, tuple[Run, ...]]
    open_outs: Mapping[str, tuple[Run, ...]]
    claims: Mapping[str, tuple[Run, ...]]
    foreign: Mapping[str, tuple[Run, ...]]
    roots: tuple[str, ...]
    head_of: Mapping[str, str]

    def drawn_outs(self, key: str) -> tuple[Run, ...]:
        """The runs out of a node that are drawn; of a device's open ends no more than a few."""
        if self.graph.nodes[key].bar:
            return self.graph.outs[key]
        left_out = set(self.open_outs[key][FAN:])
        return tuple(run for run in self.graph.outs[key] if run not in left_out)

    def columns(self, key: str) -> int:
        """How many columns the tree below a node takes."""
        ends = set(self.open_outs[key])
        return max(1, sum(1 if r in ends else self.columns(r.b) for r in self.drawn_outs(key)))


def plan(
    graph: OneLine, cut: frozenset[str] = frozenset(), wide: frozenset[str] = frozenset()
) -> Plan:
    """Cuts the one-line view into trees; nodes in ``cut`` and ``wide`` are heads.

    Nothing stands above a head in ``cut`` (it would be too high for a sheet); one in ``wide`` is
    a bar that asks for several stretches, under whatever feeds it.
    """
    heads = _heads(graph, cut | wide)
    head_of, children = _trees(graph, heads)
    open_outs = {
        key: tuple(r for r in graph.outs[key] if r not in children[key]) for key in graph.nodes
    }
    draft = Plan(graph, heads, children, open_outs, {}, {}, (), head_of)
    claims = _claims(draft, cut)
    claimed = {head_of[run.a] for runs in claims.values() for run in runs}
    kept = {h: set(runs) for h, runs in claims.items()}
    foreign = {
        h: tuple(r for r in graph.ins[h] if r not in kept.get(h, ())) for h in heads
    }
    roots = tuple(h for h in heads if h not in claimed)
    return Plan(graph, heads, children, open_outs, claims, foreign, roots, head_of)


def _heads(graph: OneLine, cut: frozenset[str]) -> tuple[str, ...]:
    heads = {key for key in graph.nodes if len(graph.ins[key]) != 1 or key in cut}
    heads |= {key for key in graph.nodes if _feeds_own_bar(graph, key) or _far_off(graph, key)}
    for key in graph.nodes:  # a ring that nothing feeds has no start: its first node is one
        seen = []
        while key not in heads and key not in seen:
            seen.append(key)
            key = graph.ins[key][0].a
        if key in seen:
            heads.add(key)
    return tuple(key for key in graph.nodes if key in heads)


def _feeds_own_bar(graph: OneLine, key: str) -> bool:
    """Whether a converter stands at the head of a distribution of its own."""
    if kinds()[graph.nodes[key].kind].acts != "converter":
        return False
    seen = {key}
    queue = [run.b for run in graph.outs[key]]
    while queue:
        at = queue.pop()
        if at in seen or len(graph.ins[at]) != 1:
            continue
        if graph.nodes[at].bar:
            return True
        seen.add(at)
        queue += [run.b for run in graph.outs[at]]
    return False


def _far_off(graph: OneLine, key: str) -> bool:
    """Whether a converter stands too far down from its source to be drawn in one column."""
    if kinds()[graph.nodes[key].kind].acts != "converter":
        return False
    steps, at = 0, key
    while len(graph.ins[at]) == 1 and steps <= AHEAD and not graph.nodes[at].bar:
        at = graph.ins[at][0].a
        steps += 1
    return steps > AHEAD


def _trees(
    graph: OneLine, heads: tuple[str, ...]
) -> tuple[dict[str, str], dict[str, tuple[Run, ...]]]:
    head_of: dict[str, str] = {}
    children: dict[str, tuple[Run, ...]] = {}
    is_head = set(heads)
    for head in heads:
        stack = [head]
        while stack:
            key = stack.pop()
            head_of[key] = head
            children[key] = tuple(r for r in graph.outs[key] if r.b not in is_head)
            stack += [r.b for r in children[key]]
    return head_of, children


def _claims(draft: Plan, cut: frozenset[str]) -> dict[str, tuple[Run, ...]]:
    """The slim trees each head takes above itself; no tree twice, and none above itself."""
    claims: dict[str, list[Run]] = {}
    owner: dict[str, Run] = {}
    for head in draft.heads:
        most = len(draft.heads) if draft.graph.nodes[head].bar else INPUTS
        for run in draft.graph.ins[head]:
            tree = draft.head_of[run.a]
            free = tree not in owner and tree not in cut and head not in cut
            if (
                free
                and len(claims.get(head, ())) < most
                and not _above(draft, owner, tree, head)
                and _slim(draft, tree, run)
                and _up(draft, claims, tree, run) + _down(draft, owner, head) <= CHAIN
            ):
                owner[tree] = run
                claims.setdefault(head, []).append(run)
    return {head: tuple(runs) for head, runs in claims.items()}


def _up(draft: Plan, claims: Mapping[str, list[Run]], tree: str, run: Run) -> int:
    """How many devices would stand above each other over the end of ``run``."""
    more = [_up(draft, claims, draft.head_of[r.a], r) for r in claims.get(tree, ())]
    return len(path_to(draft, tree, run)) + max(more, default=0)


def _down(draft: Plan, owner: Mapping[str, Run], head: str) -> int:
    """How many devices stand from a head down to the bar that has claimed it."""
    if head not in owner:
        return 0
    run = owner[head]
    return len(path_to(draft, head, run)) + _down(draft, owner, run.b)


def _above(draft: Plan, owner: Mapping[str, Run], tree: str, head: str) -> bool:
    """Whether a tree already stands below a head, so that it cannot also stand above it."""
    at = head
    while at != tree and at in owner:
        at = owner[at].b
    return at == tree


def _slim(draft: Plan, tree: str, run: Run) -> bool:
    """Whether a tree may stand above the head that ``run`` of it feeds."""
    path = path_to(draft, tree, run)
    if any(draft.graph.nodes[key].bar for key in path):
        return False
    return draft.columns(tree) <= SIDE_COLUMNS


def path_to(draft: Plan, tree: str, run: Run) -> tuple[str, ...]:
    """The nodes of a tree from its head to the node that ``run`` leaves from."""
    path = [run.a]
    while path[-1] != tree:
        path.append(draft.graph.ins[path[-1]][0].a)
    return tuple(reversed(path))
