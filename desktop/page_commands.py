# SPDX-License-Identifier: MIT
"""What the pages' own menus and keys can do, as words: for the help, which must not open every page to know.

The pages make their actions themselves; a test opens them all and holds this table equal to them.
"""

from __future__ import annotations

from desktop.actions import COMMANDS, RULE

# (menu, (command, keys) in the order of the menu); a command whose words change stands with each of them.
PAGE_COMMANDS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("Formula", (
        ("Type a line", "Ctrl+L"), ("Fill up with this line", "Ctrl+U"), ("Hold the line", "Ctrl+H"),
        ("Rescale to a total…", "Ctrl+Shift+T"), ("Exchange the stock…", "Ctrl+Shift+E"), ("Move the line up", ""),
        ("Move the line down", ""), ("Remove the lines", ""), ("Copy the lines", ""), ("Paste a formula", ""),
        ("Versions and projects…", "F4"), ("New child version", "Ctrl+N"), ("New empty version", ""), ("New project…", ""),
        ("Reason of this version", "Ctrl+E"), ("Star", "Ctrl+B"), ("Make a trial…", "Ctrl+T"),
        ("Smelling dilution of its newest trial…", "F8"), ("Choose columns…", ""),
    )),
    ("Strips", (
        ("Dip strips…", "Ctrl+D"), ("Read strip", "Ctrl+R"), ("Read the strip due longest", "Ctrl+Shift+R"),
        ("Correct reading…", ""), ("Show or hide its curve", ""), ("Close strip", ""), ("Hang strip up again", ""),
        ("Reading times…", ""), ("Show earlier figures while reading", ""), ("Earlier wordings of corrected readings", ""),
        ("Liking below the curves", ""), ("Copy curves as picture", ""), ("Save curves as picture…", ""),
        ("Copy the numbers of the curves", ""), ("Save the numbers of the curves…", ""),
    )),
    ("Material", (
        ("Find a material", "Ctrl+M"), ("New material", "Ctrl+Shift+N"), ("Add to the formula", ""),
        ("Edit material", "Ctrl+Return"), ("Retire material", ""),
    )),
    ("Shelf", (
        ("Find a bottle", "Ctrl+F"), ("Enter a delivery…", "Ctrl+Shift+D"), ("Make a dilution…", "Ctrl+D"),
        ("Make up an accord…", ""), ("To prepare", "Ctrl+P"), ("Weigh the bottle again…", "Ctrl+W"),
        ("Draw from the bottle…", "Ctrl+Shift+W"), ("Label it with its new strength", "Ctrl+L"),
        ("Top up what evaporated…", ""), ("Strengthen or weaken…", ""), ("Edit the bottle", "Ctrl+Return"),
        ("Smelled, still good", "Ctrl+G"), ("Dropper cap changed today", ""), ("Set the book right…", ""),
        ("Throw the bottle away…", ""), ("Habits of this bench…", ""),
    )),
    ("Weigh", (
        ("Begin weighing", ""), ("This line later", ""), ("Pour freely", "Ctrl+Shift+P"), ("Type in a sheet from paper…", ""),
        ("Balances…", "Ctrl+B"),
    )),
    ("Smell", (
        ("Sittings", "Alt+1"), ("Figures", "Alt+2"), ("Blind tests", "Alt+3"), ("Words", "Alt+4"), ("New sitting", "Ctrl+N"),
        ("Dip strips…", "Ctrl+D"), ("Read strip", "Ctrl+R"),
        ("Read the strip due longest", "Ctrl+Shift+R"), ("Seal the sitting…", ""), ("Reveal the sitting…", ""),
        ("Correct reading…", ""), ("Liking below the curves", ""), ("Copy curves as picture", ""),
        ("Save curves as picture…", ""), ("Copy the numbers of the curves", ""), ("Save the numbers of the curves…", ""),
        ("Plan a blind test…", "Ctrl+N"), ("Reveal the blind test", ""),
    )),
    ("Compare", (
        ("Side by side", "Alt+1"), ("Tree", "Alt+2"), ("Limits", "Alt+3"), ("Where used", "Alt+4"), ("Again today", "Alt+5"),
        ("Series", "Alt+6"), ("Save the comparison…", "Ctrl+S"), ("Print the comparison…", "Ctrl+P"), ("Copy the table", ""),
        ("Liking below the curves", ""), ("Copy curves as picture", ""), ("Save curves as picture…", ""),
        ("Copy the numbers of the curves", ""), ("Save the numbers of the curves…", ""), ("Open on the Bench", ""),
        ("Put side by side", "C"), ("Branch from it", "B"), ("Decide…", "D"), ("Correct the last decision…", ""),
        ("Star", "S"), ("Retire", "Del"), ("Could I make it again today?", "A"), ("Add a limit…", "Ctrl+N"),
        ("Change the limit…", "F2"), ("What a natural holds…", "Ctrl+Return"), ("Find a material or accord", "Ctrl+F"),
        ("Take the newer version of the accord", ""), ("Weigh a little again", "Ctrl+Return"),
        ("Weigh the whole amount again", "Ctrl+Shift+Return"), ("Plan a triangle test against the kept vial", "Ctrl+T"),
        ("Show or fold the lines as before", "Ctrl+E"), ("Save the answer…", "Ctrl+S"), ("Print the answer…", "Ctrl+P"),
        ("Copy the answer", ""), ("Make the series as versions", "Ctrl+Return"),
        ("Weights and labels of the series…", "Ctrl+S"),
    )),
)  # fmt: skip
# Keys that belong to no menu, because they act where the focus is.
ELSEWHERE: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("In a table", (
        ("Edit the cell, or open what the row is about", "Return"),
        ("Next cell that can be edited, the one before", "Tab or Shift+Tab"),
        ("Choose a row, tick it, open an accord", "Space"), ("Move the line", "Alt+Up or Alt+Down"),
        ("Remove the chosen rows", "Del"), ("Copy the chosen rows, without their heads", "Ctrl+C or Ctrl+Shift+C"),
        ("Paste rows", "Ctrl+V"), ("Choose columns…", ""),
    )),
    ("At the strips", (
        ("Dip strips", "D"), ("Read the chosen strip", "R"), ("Correct the chosen reading", "F2"),
        ("Show or hide a curve", "Space"), ("Add this word to your list", "Ctrl+Return or Ctrl+Enter"),
    )),
    ("At the balance", (
        ("The last figure was mistyped", "F2"), ("Read the strip that is due", "F4"), ("The bottle is empty", "F6"),
        ("Spilled", "F7"), ("This line later", "F9"), ("Take the link of a sentence", "Alt+0"),
        ("Take one of the answers", "Alt+1, Alt+2, Alt+3, Alt+4 or Alt+5"),
    )),
    ("The balances", (
        ("New balance", "Ctrl+N"), ("Check of the day", "Ctrl+D"), ("Test of repeatability", "Ctrl+R"),
        ("Balances for a formula", "Ctrl+T"), ("Edit the balance", "Ctrl+E"), ("Read it by cable", "Ctrl+I"),
        ("Look for ports again", "F5"),
    )),
    ("At the backups", (
        ("Look into the chosen backup", "Return or Enter"), ("Restore it beside the present book", "Ctrl+R"),
        ("Make a backup now", "Ctrl+N"), ("Save a copy of the book", "Ctrl+S"), ("Check the book", "Ctrl+T"),
        ("Back to where you were", "Esc"),
    )),
    ("Everywhere", (
        ("Next field, field before", "Tab or Shift+Tab"), ("Leave a field, a list or a sheet", "Esc"),
        ("Press the button that has the focus", "Return, Enter or Space"), ("Menus", "Alt, then the letters"),
    )),
    ("In the help", (
        ("Find in the help", "Ctrl+F"), ("Back to what was read before", "Alt+Left"), ("Back to where you were", "Esc"),
    )),
)  # fmt: skip


def command_rows() -> tuple[tuple[str, str, str], ...]:
    """(menu, command, keys or '') of everything that can be asked for: the window's menus, the pages', and keys of no menu."""
    rows = [(c.menu, c.text, " or ".join(c.keys)) for c in COMMANDS if c.text != RULE]
    rows += [(menu, text, keys) for menu, own in (*PAGE_COMMANDS, *ELSEWHERE) for text, keys in own]
    return tuple(rows)
