# SPDX-License-Identifier: MIT
"""The Smell page: sittings and their stand, figures, blind tests, words."""
