"""HiGHS without a word on the screen: the command prints an answer there, and nothing else."""

from __future__ import annotations

import highspy


class QuietHighs(highspy.Highs):
    """The solver, silent from its first moment, on one thread so that answers repeat."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]

    def enableCallbacks(self) -> None:  # noqa: N802 - the solver's own name; its constructor calls it
        """Turn the output off before anything can be printed."""
        self.setOptionValue("output_flag", False)
        self.setOptionValue("threads", 1)
        super().enableCallbacks()  # type: ignore[no-untyped-call]
