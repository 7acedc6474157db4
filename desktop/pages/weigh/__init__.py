# SPDX-License-Identifier: MIT
"""The Weigh page: what is weighed is weighed here, line by line."""
