"""The times that the campaign allows are those that the page of health words states."""

import pytest

from host_sim.campaign.expectations import EXPECTED
from host_sim.reference_health import told_within_ms

SLACK_S = 0.31  # looks, a window that is half old, a tick or two


@pytest.mark.parametrize("name,word", [
    ("pitot-silent", "pitot-no-reply"), ("angled-rail", "angled-rail"), ("radio", "both-jump"),
    ("pitot-frozen", "pitot-frozen"), ("both-frozen", "both-frozen"),
    ("angled-leak", "unbalanced"), ("angled-iced-30", "unbalanced")])
def test_the_campaign_allows_what_is_stated(name: str, word: str) -> None:
    stated_s = told_within_ms(word) / 1000
    assert stated_s - 0.11 <= EXPECTED[name].within_s <= stated_s + SLACK_S
