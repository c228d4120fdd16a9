"""For small problems: prove that a plan is the best there is, or find a better one."""
