"""A run keeps to one family of hue and to even steps."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from swatchread.errors import NoRecipesError, UsageError
from swatchread.palette.hue_family import HueFamily, find_family
from swatchread.palette.plan_answer import plan
from swatchread.palette.plan_options import Pool, gather_options
from swatchread.palette.planning import make_plan
from swatchread.palette.step_choice import TOLERANCE
from swatchread.recipes.tubes import load_tubes
from tests.test_plan import flesh_pool, option


def greens(rng, count):
    labs = [(L, -22.0 + rng.normal(0, 2), 18.0 + rng.normal(0, 2)) for L in rng.uniform(25, 85, count)]
    return tuple(option(lab, f"green {i}") for i, lab in enumerate(labs))


def mixed_pool(count=60):
    """As many greens as flesh mixtures in the lights, none else in the darkest part: nothing but green there."""
    rng = np.random.default_rng(7)
    flesh = flesh_pool(rng, 60)
    return replace(flesh, options=tuple(o for o in flesh.options if o.lab[0] > 35) + greens(rng, count))


def names(made):
    return [step.run.name.split()[0] for step in made.steps if step.run is not None]


def test_a_run_keeps_to_one_family():
    for count in (20, 60):
        assert len(set(names(make_plan(mixed_pool(count), None, 6, 3.0, 8.0)))) == 1


def test_another_family_is_given_when_asked_for():
    pool = mixed_pool()
    assert set(names(make_plan(replace(pool, hue="green"), None, 6, 3.0, 8.0))) == {"green"}
    assert set(names(make_plan(replace(pool, hue="orange"), None, 6, 4.5, 8.0))) == {"card"}
    assert make_plan(replace(pool, hue="any"), None, 6, 3.0, 8.0).family is None


def test_a_family_that_is_not_recorded_is_refused():
    pool = Pool(flesh_pool(np.random.default_rng(1)).options, 0, hue="blue")
    with pytest.raises(NoRecipesError, match="run of blue"):
        make_plan(pool, None)
    with pytest.raises(UsageError, match="no family of hue"):
        gather_options([], load_tubes(), hue="mauve")


def test_greys_belong_to_every_family():
    family = HueFamily("orange", 50.0)
    assert family.holds(np.array([[50.0, -2.0, -3.0], [50.0, 10.0, 12.0], [50.0, -12.0, -10.0]])).tolist() == [
        True,
        True,
        False,
    ]
    assert find_family(np.array([[30.0, 1.0, 1.0], [60.0, 0.0, -1.0]])) is None


def test_steps_are_even_and_say_their_parts(palette):
    for steps in (5, 6, 8):
        made = plan(palette, steps=steps).for_amount("20 ml")
        for one, other in pairwise(made.steps):
            assert abs(other.run.value - one.run.value - made.spacing) <= TOLERANCE
        for step in made.steps:
            for taken in step.options:
                assert taken is None or set(taken.parts) == set(taken.portions) == set(taken.tubes)
                assert taken is None or made.family.holds(step.run.lab)
