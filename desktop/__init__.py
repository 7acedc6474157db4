# SPDX-License-Identifier: MIT
"""What the perfumer sees: one window over one book. Importing this package imports nothing heavy."""
