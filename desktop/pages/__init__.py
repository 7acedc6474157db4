# SPDX-License-Identifier: MIT
"""The pages of the window."""
