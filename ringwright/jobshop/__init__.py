"""Which case goes on which machine when, pure: the plan, its check, its reasons, a change."""
