"""What a hand does on the canvas: a small state machine for each mode, without Qt.

A mode is given plain events (``events``), reads the bench through ``desk.Desk``, and answers with an
``Outcome``: a change of the plan to be done through the undo stack, or words for the message bar. While
a gesture runs nothing of it is in the plan: the mode holds a snapshot of what it began with, recomputes
from it at every move, and shows the result as its ``candidate`` and ``overlay``. Cancelling forgets it.
"""
