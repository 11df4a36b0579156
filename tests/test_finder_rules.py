"""The finder's rules can be switched off for a bench, and for nobody else."""

from dataclasses import fields, replace
from threading import Thread

from swatchread.plane.finder_settings import FinderSettings, settings, using
from tests.bench.finder_ablation import GROUPS


def test_rules_are_off_within_the_block_alone_and_in_its_thread_alone():
    seen = []
    with using(replace(FinderSettings(), cropped=False)):
        seen.append(settings().cropped)
        beside = Thread(target=lambda: seen.append(settings().cropped))
        beside.start()
        beside.join()
    seen.append(settings().cropped)
    assert seen == [False, True, True]


def test_the_ablation_switches_every_rule_in_one_group():
    grouped = [name for names in GROUPS.values() for name in names]
    rules = [field.name for field in fields(FinderSettings) if field.default is True]
    assert sorted(grouped) == sorted(rules)
