"""Words that every format of a work order uses alike."""

from __future__ import annotations

from ...checks.rework import Plan

CAUTION = (
    "The order follows from what the texts say; no text is proof that the rig was built to it. "
    "Prove dead, every time. Local codes and a licensed person decide."
)


def summary(plan: Plan) -> str:
    """How many jobs, and what may be done between them."""
    count = len(plan.jobs)
    if not count:
        return "Nothing to do at the bench."
    if count == 1:
        return "1 job, to be done in one go."
    return (
        f"{count} jobs; after each the builder may stop, and the rig may be used as it says there."
    )
