# SPDX-License-Identifier: MIT
"""Curves on log time, drawn by matplotlib."""
