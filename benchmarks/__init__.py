# SPDX-License-Identifier: MIT
"""What must be fast, measured as ratios to a floor of the same run: python -m benchmarks"""
