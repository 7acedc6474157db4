# SPDX-License-Identifier: MIT
"""The Compare page: versions side by side, their family tree, limits, where a material went, and whether it can be made again."""
