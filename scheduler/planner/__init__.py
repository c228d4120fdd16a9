"""The plan: which specimen in which session on which stretch of which board.

Nothing is imported here: who reads a kept plan needs `planner.problem` alone, and who makes one
begins at `planner.make`.
"""
