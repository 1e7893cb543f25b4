"""Tests that share something costly run in one process, which makes it once."""

import pytest

pytestmark = pytest.mark.xdist_group("groups")


def test_groups_of_tests_are_in_effect(request):
    """By the end of its id pytest-xdist knows which group a test belongs to; where it can't add it, it says nothing."""
    if request.config.getoption("loadgroup", False):
        assert request.node.nodeid.endswith("@groups"), "pytest-xdist passes groups over: install pytest below 9.2"
