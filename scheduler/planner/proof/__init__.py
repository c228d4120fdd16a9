"""Small plans: the best there is, proven, or a better one."""
