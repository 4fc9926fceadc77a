"""Jobs, oily rags, duties, the rag log."""

from __future__ import annotations

from service.core.access import Permission
from service.web.routes.row import SIGNED_IN, row

_SEES_JOBS = (Permission.SEE_STORE, Permission.SEE_OWN_JOB)
_SEES_RAGS = (Permission.SEE_LOGS, Permission.SEE_OWN_JOB)

ROWS = (
    row("GET", "/jobs", _SEES_JOBS, "all jobs, or the own ones"),
    row("GET", "/jobs/new", Permission.START_JOB, "a new job"),
    row("POST", "/jobs/new", Permission.START_JOB, "a new job"),
    row("GET", "/jobs/{job_id}", _SEES_JOBS, "one job; a student's must be their own"),
    row("POST", "/jobs/{job_id}/people", Permission.START_JOB, "more people; leader or keeper"),
    row("POST", "/jobs/{job_id}/leave", Permission.START_JOB, "taking somebody out; leader or keeper"),
    row("GET", "/jobs/{job_id}/rags", _SEES_JOBS, "pieces out and in; a student's must be their own job"),
    row("POST", "/jobs/{job_id}/rags", Permission.HAND_IN_RAGS, "pieces, and oily things found"),
    row("GET", "/day/close", Permission.CLOSE_DAY, "what is still open on a day"),
    row("POST", "/day/close", Permission.CLOSE_DAY, "closing a day"),
    row("POST", "/api/jobs/{job_id}/rags", Permission.HAND_IN_RAGS, "pieces, and oily things found"),
    row("POST", "/api/day-closings", Permission.CLOSE_DAY, "closing a day"),
    row("GET", "/jobs/{job_id}/close", Permission.CLOSE_JOB, "the short list before closing"),
    row("POST", "/jobs/{job_id}/close", Permission.CLOSE_JOB, "closing; leader or keeper"),
    row("GET", "/rags", _SEES_RAGS, "rag loads that stand, all or those of own jobs"),
    row("GET", "/rags/hand-over", Permission.REMOVE_RAGS, "the whole can leaves"),
    row("POST", "/rags/hand-over", Permission.REMOVE_RAGS, "the whole can leaves"),
    row("GET", "/rags/log", Permission.SEE_LOGS, "the log and what it proves"),
    row("GET", "/rags/day-sheet", Permission.SEE_LOGS, "the sheet of a day"),
    row("POST", "/rags/day-sheet", Permission.SEE_LOGS, "writing the head of the log down; an inspector may"),
    row("GET", "/rags/violations", Permission.SEE_LOGS, "violations with their answers"),
    row("POST", "/rags/violations/{duty_id}", Permission.ANSWER_VIOLATION, "a keeper's answer"),
    row("GET", "/rags/overrides", Permission.SEE_LOGS, "overrides with their use"),
    row("POST", "/rags/overrides", Permission.OVERRIDE, "one draw or batch let through"),
    row("GET", "/rags/wipes", Permission.SEE_LOGS, "containers of solvent wipes"),
    row("POST", "/rags/wipes", Permission.CONTAIN_RAGS, "a container of solvent wipes begins"),
    row("GET", "/rags/wipes/{duty_id}", Permission.SEE_LOGS, "one container of solvent wipes"),
    row("POST", "/rags/wipes/{duty_id}", Permission.WASTE_HAND_OVER, "solvent wipes are handed over"),
    row("GET", "/api/wipes", Permission.SEE_LOGS, "containers of solvent wipes"),
    row("POST", "/api/wipes", Permission.CONTAIN_RAGS, "a container of solvent wipes begins"),
    row("POST", "/api/wipes/{duty_id}/sent", Permission.WASTE_HAND_OVER, "solvent wipes are handed over"),
    row("GET", "/rags/{load_id}", _SEES_RAGS, "one load; a student's must be of their own job"),
    row("GET", "/rags/{load_id}/step", Permission.HAND_IN_RAGS, "what was done, where, who saw it"),
    row("POST", "/rags/{load_id}/step", Permission.HAND_IN_RAGS, "one step; the rules judge role and step"),
    row("POST", "/rags/{load_id}/count", Permission.HAND_IN_RAGS, "the pieces counted"),
    row("POST", "/rags/{load_id}/give", Permission.GIVE_RAGS_ON, "who owes it from now on"),
    row("GET", "/duties", SIGNED_IN, "one's own duties"),
    row("GET", "/duties/{person_id}", Permission.SEE_LOGS, "what anybody owes"),
    row("GET", "/duties/{duty_id}/done", SIGNED_IN, "the one who owes it, or a keeper"),
    row("POST", "/duties/{duty_id}/done", SIGNED_IN, "the one who owes it, or a keeper"),
    row("GET", "/api/jobs", _SEES_JOBS, "all jobs, or the own ones"),
    row("POST", "/api/jobs", Permission.START_JOB, "a new job"),
    row("POST", "/api/jobs/{job_id}/close", Permission.CLOSE_JOB, "closing; leader or keeper"),
    row("GET", "/api/rag-loads", Permission.SEE_LOGS, "rag loads that stand, or that ended"),
    row("POST", "/api/rag-loads/{load_id}/entries", Permission.HAND_IN_RAGS, "one step of a load"),
    row("GET", "/api/overrides", Permission.SEE_LOGS, "overrides with their use"),
    row("POST", "/api/overrides", Permission.OVERRIDE, "one draw or batch let through"),
    row("GET", "/api/rag-log", Permission.SEE_LOGS, "the log, in pieces"),
    row("GET", "/api/rag-log/proof", Permission.SEE_LOGS, "what the log proves"),
)
