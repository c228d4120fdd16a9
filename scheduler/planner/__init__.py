"""The plan: which specimen goes in which session on which stretch of which board.

Nothing is imported here, since many commands need only a part: `planner.proposal` to read a kept
plan, `planner.problem` to state a problem. To make a plan, begin at `planner.make`.
"""
