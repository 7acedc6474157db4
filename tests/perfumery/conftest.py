# SPDX-License-Identifier: MIT
"""What the tests of the sums share: a way to ask what a value was refused for."""

from collections.abc import Callable
from typing import Any

import pytest

from perfumery.findings import Finding, Refused


@pytest.fixture
def refused() -> Callable[..., Finding]:
    """`refused(call, …)` calls it and returns the one finding it must be refused with."""

    def finding_of(call: Callable[..., Any], *args: Any, **fields: Any) -> Finding:
        with pytest.raises(Refused) as caught:
            call(*args, **fields)
        assert len(caught.value.findings) == 1, caught.value
        return caught.value.findings[0]

    return finding_of
