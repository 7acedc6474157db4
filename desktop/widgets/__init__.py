# SPDX-License-Identifier: MIT
"""Small widgets used by several pages."""
