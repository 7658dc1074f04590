"""One sentence for every action: what it does, for the line at the foot, the help page and screen readers."""

from __future__ import annotations

from typing import Final

SENTENCES: Final = {
    "new": "Begins an empty plan.",
    "open": "Opens a plan from a file.",
    "save": "Writes the plan to its file; the version before is kept beside it.",
    "save_as": "Writes the plan to another file.",
    "import_": "Brings in outlines from files, a patch for each.",
    "template": "Prints the chosen patch at its true size, to mark from.",
    "quit": "Closes the bench; unsaved work is asked about.",
    "undo": "Takes the last step back.",
    "redo": "Does again what was undone last.",
    "copy": "Puts what the canvas shows on the clipboard.",
    "preferences": "Units, paper, and the settings that new patches start with.",
    "draw": "Draw a patch by clicking its corners or typing lengths.",
    "shape": "Drag, add and remove the corners of the patch.",
    "anchor": "Drag the anchor; the fan follows the hand.",
    "marks": "Drag, add and remove marks, and divide the sides.",
    "walk": "Follow the stitch path under a moving needle.",
    "add_corner": "Adds a corner after the chosen one, or where the pointer is.",
    "remove_corner": "Takes the chosen corner out of the outline.",
    "next_corner": "Chooses the next corner for the keys.",
    "previous_corner": "Chooses the corner before for the keys.",
    "close_outline": "Ends the drawing where it began.",
    "add_mark": "Adds a mark of your own on the edge.",
    "remove_mark": "Takes the chosen mark away.",
    "next_mark": "Chooses the next mark for the keys.",
    "previous_mark": "Chooses the mark before for the keys.",
    "more_spans": "Divides the side into one span more.",
    "fewer_spans": "Divides the side into one span less.",
    "usual_spans": "Divides the side as the other sides are.",
    "usual_marks": "Forgets all that was done to the marks by hand.",
    "play": "Moves the needle along the stitch path, or halts it.",
    "step_on": "Moves the needle to the end of the next line.",
    "step_back": "Moves the needle back by one line.",
    "next_wedge": "Moves the needle to the next wedge.",
    "previous_wedge": "Moves the needle to the wedge before.",
    "path_start": "Moves the needle to the beginning of the stitch path.",
    "path_end": "Moves the needle to the end of the stitch path.",
    "next_patch": "Chooses the next patch of the plan.",
    "previous_patch": "Chooses the patch before.",
    "rename": "Gives the chosen patch another name.",
    "remove_patch": "Takes the chosen patch out of the plan; undo brings it back.",
    "keep_try": "Keeps the anchor and settings as they are now, to come back to.",
    "compare_tries": "Shows all tries of the patch side by side, with their figures.",
    "zoom_in": "Shows the cloth larger.",
    "zoom_out": "Shows the cloth smaller.",
    "fit": "Shows the whole patch.",
    "quilted": "Shows cloth and thread as on the quilt, without marks and warnings.",
    "help": "Shows one page on how the bench is used.",
    "styles": "Shows lengths so; no plan changes.",
    "speeds": "How fast the needle moves along the stitch path.",
    "appearances": "Colours of the bench; cloth and thread stay as they are.",
    "text_sizes": "Size of all words on the bench; what is printed stays as it is.",
}
"""By the name that ``Actions`` has for the action, or for a group of them. Still to be translated."""

RECENT: Final = "Opens the plan that you worked on."
PANEL: Final = "Shows or hides this panel."
