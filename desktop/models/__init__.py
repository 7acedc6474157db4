# SPDX-License-Identifier: MIT
"""Table models: rows of ready strings, no sums."""
