# SPDX-License-Identifier: MIT
"""What the pages' own menus and keys can do, as words: for the help, which must not open every page to know.

The pages make their actions themselves; a test opens them all and holds this table equal to them.
"""

from __future__ import annotations

from desktop import figures
from desktop.actions import COMMANDS, RULE
from desktop.language import tr

# (menu, (command, keys) in the order of the menu); a command whose words change stands with each of them.
PAGE_COMMANDS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (tr("Formula"), (
        (tr("Type a line"), "Ctrl+L"), (tr("Fill up with this line"), "Ctrl+U"), (tr("Hold the line"), "Ctrl+H"),
        (tr("Rescale to a total…"), "Ctrl+Shift+T"), (tr("Exchange the stock…"), "Ctrl+Shift+E"), (tr("Move the line up"), ""),
        (tr("Move the line down"), ""), (tr("Remove the lines"), ""), (tr("Copy the lines"), ""), (tr("Paste a formula"), ""),
        (tr("Versions and projects…"), "F4"), (tr("New child version"), "Ctrl+N"), (tr("New empty version"), ""),
        (tr("New project…"), ""), (tr("Reason of this version"), "Ctrl+E"), (tr("Star"), "Ctrl+B"),
        (tr("Make a trial…"), "Ctrl+T"), (tr("Smelling dilution of its newest trial…"), "F8"), (tr("Choose columns…"), ""),
    )),
    (tr("Strips"), (
        (tr("Dip strips…"), "Ctrl+D"), (tr("Read strip"), "Ctrl+R"), (tr("Read the strip due longest"), "Ctrl+Shift+R"),
        (tr("Correct reading…"), ""), (tr("Show or hide its curve"), ""), (tr("Close strip"), ""),
        (tr("Hang strip up again"), ""), (tr("Reading times…"), ""), (tr("Show earlier figures while reading"), ""),
        (tr("Earlier wordings of corrected readings"), ""), (tr("Liking below the curves"), ""),
        (tr("Copy curves as picture"), ""), (tr("Save curves as picture…"), ""), (tr("Copy the numbers of the curves"), ""),
        (tr("Save the numbers of the curves…"), ""),
    )),
    (tr("Material"), (
        (tr("Find a material"), "Ctrl+M"), (tr("New material"), "Ctrl+Shift+N"), (tr("Add to the formula"), ""),
        (tr("Edit material"), "Ctrl+Return"), (tr("Retire material"), ""),
    )),
    (tr("Shelf"), (
        (tr("Find a bottle"), "Ctrl+F"), (tr("Enter a delivery…"), "Ctrl+Shift+D"), (tr("Make a dilution…"), "Ctrl+D"),
        (tr("Make up an accord…"), ""), (tr("To prepare"), "Ctrl+P"), (tr("Weigh the bottle again…"), "Ctrl+W"),
        (tr("Draw from the bottle…"), "Ctrl+Shift+W"), (tr("Label it with its new strength"), "Ctrl+L"),
        (tr("Top up what evaporated…"), ""), (tr("Strengthen or weaken…"), ""), (tr("Edit the bottle"), "Ctrl+Return"),
        (tr("Smelled, still good"), "Ctrl+G"), (tr("Dropper cap changed today"), ""), (tr("Set the book right…"), ""),
        (tr("Throw the bottle away…"), ""), (tr("Habits of this bench…"), ""),
    )),
    (tr("Weigh"), (
        (tr("Begin weighing"), ""), (tr("This line later"), ""), (tr("Pour freely"), "Ctrl+Shift+P"),
        (tr("Type in a sheet from paper…"), ""), (tr("Balances…"), "Ctrl+B"),
    )),
    (tr("Smell"), (
        (tr("Sittings"), "Alt+1"), (tr("Figures"), "Alt+2"), (tr("Blind tests"), "Alt+3"), (tr("Words"), "Alt+4"),
        (tr("New sitting"), "Ctrl+N"), (tr("Dip strips…"), "Ctrl+D"), (tr("Read strip"), "Ctrl+R"),
        (tr("Read the strip due longest"), "Ctrl+Shift+R"), (tr("Seal the sitting…"), ""), (tr("Reveal the sitting…"), ""),
        (tr("Correct reading…"), ""), (tr("Liking below the curves"), ""), (tr("Copy curves as picture"), ""),
        (tr("Save curves as picture…"), ""), (tr("Copy the numbers of the curves"), ""),
        (tr("Save the numbers of the curves…"), ""), (tr("Plan a blind test…"), "Ctrl+N"), (tr("Reveal the blind test"), ""),
    )),
    (tr("Compare"), (
        (tr("Side by side"), "Alt+1"), (tr("Tree"), "Alt+2"), (tr("Limits"), "Alt+3"), (tr("Where used"), "Alt+4"),
        (tr("Again today"), "Alt+5"), (tr("Series"), "Alt+6"), (tr("Save the comparison…"), "Ctrl+S"),
        (tr("Print the comparison…"), "Ctrl+P"), (tr("Copy the table"), ""), (tr("Liking below the curves"), ""),
        (tr("Copy curves as picture"), ""), (tr("Save curves as picture…"), ""), (tr("Copy the numbers of the curves"), ""),
        (tr("Save the numbers of the curves…"), ""), (tr("Open on the Bench"), ""), (tr("Put side by side"), "C"),
        (tr("Branch from it"), "B"), (tr("Decide…"), "D"), (tr("Correct the last decision…"), ""), (tr("Star"), "S"),
        (tr("Retire"), "Del"), (tr("Could I make it again today?"), "A"), (tr("Add a limit…"), "Ctrl+N"),
        (tr("Change the limit…"), "F2"), (tr("What a natural holds…"), "Ctrl+Return"),
        (tr("Find a material or accord"), "Ctrl+F"), (tr("Take the newer version of the accord"), ""),
        (tr("Weigh a little again"), "Ctrl+Return"), (tr("Weigh the whole amount again"), "Ctrl+Shift+Return"),
        (tr("Plan a triangle test against the kept vial"), "Ctrl+T"), (tr("Show or fold the lines as before"), "Ctrl+E"),
        (tr("Save the answer…"), "Ctrl+S"), (tr("Print the answer…"), "Ctrl+P"), (tr("Copy the answer"), ""),
        (tr("Make the series as versions"), "Ctrl+Return"), (tr("Weights and labels of the series…"), "Ctrl+S"),
        (tr("Print weights and labels of the series…"), "Ctrl+P"),
    )),
)  # fmt: skip
# Keys that belong to no menu, because they act where the focus is.
ELSEWHERE: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (tr("In a table"), (
        (tr("Edit the cell, or open what the row is about"), "Return"),
        (tr("Next cell that can be edited, the one before"), tr("Tab or Shift+Tab")),
        (tr("Choose a row, tick it, open an accord"), "Space"), (tr("Move the line"), tr("Alt+Up or Alt+Down")),
        (tr("Remove the chosen rows"), "Del"), (tr("Copy the chosen rows, without their heads"), tr("Ctrl+C or Ctrl+Shift+C")),
        (tr("Paste rows"), "Ctrl+V"), (tr("Choose columns…"), ""),
    )),
    (tr("At the strips"), (
        (tr("Dip strips"), "D"), (tr("Read the chosen strip"), "R"), (tr("Correct the chosen reading"), "F2"),
        (tr("Show or hide a curve"), "Space"), (tr("Add this word to your list"), tr("Ctrl+Return or Ctrl+Enter")),
    )),
    (tr("At the balance"), (
        (tr("The last figure was mistyped"), "F2"), (tr("Read the strip that is due"), "F4"), (tr("The bottle is empty"), "F6"),
        (tr("Spilled"), "F7"), (tr("This line later"), "F9"), (tr("Take the link of a sentence"), "Alt+0"),
        (tr("Take one of the answers"), tr("Alt+1, Alt+2, Alt+3, Alt+4 or Alt+5")),
    )),
    (tr("The balances"), (
        (tr("New balance"), "Ctrl+N"), (tr("Check of the day"), "Ctrl+D"), (tr("Test of repeatability"), "Ctrl+R"),
        (tr("Balances for a formula"), "Ctrl+T"), (tr("Edit the balance"), "Ctrl+E"), (tr("Read it by cable"), "Ctrl+I"),
        (tr("Look for ports again"), "F5"),
    )),
    (tr("At the backups"), (
        (tr("Look into the chosen backup"), tr("Return or Enter")), (tr("Restore it beside the present book"), "Ctrl+R"),
        (tr("Make a backup now"), "Ctrl+N"), (tr("Save a copy of the book"), "Ctrl+S"), (tr("Check the book"), "Ctrl+T"),
        (tr("Back to where you were"), "Esc"),
    )),
    (tr("Everywhere"), (
        (tr("Next field, field before"), tr("Tab or Shift+Tab")), (tr("Leave a field, a list or a sheet"), "Esc"),
        (tr("Press the button that has the focus"), tr("Return, Enter or Space")), (tr("Menus"), tr("Alt, then the letters")),
    )),
    (tr("In the help"), (
        (tr("Find in the help"), "Ctrl+F"), (tr("Back to what was read before"), "Alt+Left"),
        (tr("Back to where you were"), "Esc"),
    )),
)  # fmt: skip


def command_rows() -> tuple[tuple[str, str, str], ...]:
    """(menu, command, keys or '') of everything that can be asked for: the window's menus, the pages', and keys of no menu."""
    rows = [(c.menu, c.text, figures.either(c.keys)) for c in COMMANDS if c.text != RULE]
    rows += [(menu, text, keys) for menu, own in (*PAGE_COMMANDS, *ELSEWHERE) for text, keys in own]
    return tuple(rows)
