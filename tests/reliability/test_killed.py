"""kill -9 of the server while eight people save: what it acknowledged is there, and it starts again
with nobody's help.
"""

from __future__ import annotations

import random
import time

import pytest

from tests.reliability.conftest import ShopCopy
from tests.reliability.saving import Crowd, assert_nothing_is_lost
from tests.reliability.serving import run, serving

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    ("saves", "kills"), [(40, 1), pytest.param(1000, 20, marks=pytest.mark.long)]
)
def test_no_acknowledged_save_is_lost_when_the_server_is_killed(
    shop_copy: ShopCopy, saves: int, kills: int
):
    chance = random.Random(saves)
    with serving(shop_copy.folder, shop_copy.url) as server:
        crowd = Crowd(shop_copy, server)
        with crowd.at_work():
            for number in range(kills):
                crowd.wait_for(saves * (number + 1) // (kills + 1))
                # Not only between two saves: at any moment of one.
                time.sleep(chance.random() * 0.05)
                server.kill()
                server.start()
            crowd.wait_for(saves)
        assert sum(client.cut_off for client in crowd.client_logs) > 0, (
            "nothing was ever interrupted"
        )
    assert "Traceback" not in server.log.read_text()
    assert_nothing_is_lost(shop_copy, crowd)
    checked = run("check", *shop_copy.where)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    print(f"{crowd.acknowledged} saves acknowledged, {kills} kills, none lost")
