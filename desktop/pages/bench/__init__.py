# SPDX-License-Identifier: MIT
"""The Bench: formula, strips and materials side by side."""
