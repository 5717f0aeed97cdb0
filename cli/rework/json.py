"""A work order as JSON, in the shape described by ``rework.schema.json``."""

from __future__ import annotations

import json
from typing import Any

from ...checks.rework import Job, Landing, Plan
from ...render.rework_rows import sections
from .words import CAUTION, summary


def write(plan: Plan, title: str, colour: bool = False) -> str:
    """The plan as one JSON document in plain ASCII."""
    told = {
        "title": title,
        "rig": plan.new.label,
        "summary": summary(plan),
        "jobs": [_job(job) for job in plan.jobs],
        "sections": [
            {"job": s.job, "title": s.title, "lines": [line._asdict() for line in s.lines]}
            for s in sections(plan)
        ],
        "caution": CAUTION,
    }
    return json.dumps(told, indent=2) + "\n"


def _job(job: Job) -> dict[str, Any]:
    touch = job.touch
    return {
        "changes": [{"verb": c.verb, "group": c.group, "name": c.name} for c in job.changes],
        "isolate": [live._asdict() for live in job.live],
        "wait": list(job.charged),
        "prove": [
            {
                "terminal": f"{p.device}.{p.terminal}",
                "role": p.role,
                "volts": p.volts,
                "mode": p.mode,
            }
            for p in job.points
        ],
        "lift": [_end(landing) for landing in touch.lift],
        "pull": list(touch.pull),
        "lay": list(touch.lay),
        "lead": list(touch.lead),
        "land": [_end(landing) for landing in touch.land],
        "off": list(job.off),
    }


def _end(landing: Landing) -> dict[str, str]:
    return {"conductor": landing.conductor.name, "terminal": landing.end.name}
