"""The migration that takes the problem out of the kept plan's row."""

from __future__ import annotations

# The problem that a kept plan answers was most of a large record.
PLAN_ALONE = """
UPDATE kept_plan SET plan = json_object(
  'format', 1,
  'plan', json_extract(plan, '$.plan'),
  'proof', json_extract(plan, '$.proof'),
  'pinned', json_extract(plan, '$.pinned'),
  'now', json_extract(plan, '$.problem.now'),
  'timezone', json_extract(plan, '$.problem.timezone'),
  'sessions', json_extract(plan, '$.problem.sessions'),
  'boards', json_extract(plan, '$.problem.boards'),
  'standing', json_extract(plan, '$.problem.standing'),
  'misfits', json_extract(plan, '$.problem.misfits'),
  'lost_at', (
    SELECT json_group_object(json_extract(value, '$.specimen'), json_extract(value, '$.lost_at'))
    FROM json_each(plan, '$.problem.specimens')
    WHERE json_extract(value, '$.lost_at') IS NOT NULL
  )
);
"""
