# SPDX-License-Identifier: MIT
"""The Shelf: bottles, what is in them, and what is done with them."""
