"""The palette for a sitting: an exact, even and stable choice, and the sheet for the wall."""

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest
from typer.testing import CliRunner

import swatchread
from swatchread.cli.main import app
from swatchread.colour.cielab import delta_e_2000, value_of_lab
from swatchread.colour.painter_terms import warmth
from swatchread.errors import NoRecipesError, UsageError
from swatchread.note.model import Note
from swatchread.note.phrases import CARE
from swatchread.palette.plan_answer import plan_facts
from swatchread.palette.plan_options import Option, Pool, gather_options
from swatchread.palette.plan_records import Plan, PlanStep
from swatchread.palette.plan_remarks import plan_remarks
from swatchread.palette.plan_swaps import alternatives
from swatchread.palette.planning import make_plan
from swatchread.palette.step_choice import LEAST_WARMTH, TOLERANCE, Place, _costs_between, _costs_within, choose_steps
from swatchread.palette.training_data import Card
from swatchread.recipes.tubes import load_tubes
from tests.archive_data import build_note, swatch_data


def option(lab, name="", sd=0.04, **kept):
    lab = np.array(lab, dtype=float)
    facts = {"kind": "recorded", "name": name, "recipe": "1 red ochre", "tubes": ("red ochre",), "de00": 1.0} | kept
    return Option(
        lab=lab, value=float(value_of_lab(lab)), warmth=float(warmth(lab)), value_sd=sd, warmth_sd=sd, **facts
    )


def flesh_pool(rng, count=90, gap=(0.0, 0.0)):
    """Invented flesh mixtures over all values, some warmer, some cooler; none within the gap of L*."""
    L = rng.uniform(25, 85, count)
    L = L[(gap[0] > L) | (gap[1] < L)]
    chroma = 16 + rng.normal(0, 5, len(L))
    hue = np.radians(50 + rng.normal(0, 12, len(L)))
    labs = np.stack([L, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
    return Pool(tuple(option(lab, f"card {i} r1c1") for i, lab in enumerate(labs)), 0)


@pytest.fixture(scope="module")
def pool(world):
    return gather_options([Card(f"card {i}", n) for i, n in enumerate(world.notes)], load_tubes())


class TestChoice:
    def random_steps(self, seed, steps=3, options=2):
        rng = np.random.default_rng(seed)
        made = []
        for k in range(steps):
            L = 30 + 15 * k
            row = []
            for shift in (0.0, 6.0, -6.0):
                aim = np.array([12.0, 14.0]) + shift * np.array([0.64, 0.77])
                labs = np.column_stack([rng.normal(L, 2, options), rng.normal(aim, 5, (options, 2))])
                row.append(Place(float(value_of_lab(np.array([L, 0, 0]))), aim, tuple(option(lab) for lab in labs)))
            made.append(tuple(row))
        return made

    @pytest.mark.parametrize("seed", range(8))
    def test_is_the_optimum_of_all_choices(self, seed):
        # Against trying every combination: 27 triples a step, three steps.
        steps = self.random_steps(seed)
        within = [_costs_within(step) for step in steps]
        links = [[_costs_between(a, b) for a, b in zip(*pair, strict=True)] for pair in itertools.pairwise(steps)]
        triples = list(itertools.product(range(3), repeat=3))

        def cost(way):
            total = sum(table[t] for table, t in zip(within, way, strict=True))
            for link, (now, then) in zip(links, itertools.pairwise(way), strict=True):
                total += sum(table[i, j] for table, i, j in zip(link, now, then, strict=True))
            return total

        best = min(itertools.product(triples, repeat=3), key=cost)
        chosen = choose_steps(steps)
        for step, pick, triple in zip(steps, chosen, best, strict=True):
            for place, taken, i in zip(step, pick, triple, strict=True):
                assert taken is (place.options[i] if i < len(place.options) else None)

    def test_no_alternative_stands_beside_nothing(self):
        step = self.random_steps(0, steps=1)[0]
        chosen = choose_steps([(replace(step[0], options=()), *step[1:])])
        assert chosen == [(None, None, None)]


class TestPlan:
    @pytest.mark.parametrize("seed", range(5))
    def test_steps_are_even_wherever_something_is_recorded(self, seed):
        pool = flesh_pool(np.random.default_rng(seed))
        plan = make_plan(pool, None, 6, 3.0, 8.0)
        for step, value in zip(plan.steps, np.linspace(3, 8, 6), strict=True):
            assert step.value == pytest.approx(value)
            if any(abs(o.value - value) <= TOLERANCE for o in pool.options):
                assert abs(step.run.value - value) <= TOLERANCE

    def test_alternatives_are_clearly_warmer_and_cooler_at_the_same_value(self, pool, palette):
        for step in make_plan(pool, palette, 6, 3.0, 8.0).steps:
            for beside, sign in ((step.warmer, 1), (step.cooler, -1)):
                if beside is not None:
                    assert sign * (beside.warmth - step.run.warmth) > LEAST_WARMTH
                    assert abs(beside.value - step.value) <= TOLERANCE

    def test_the_run_keeps_its_hue(self):
        rng = np.random.default_rng(3)
        pool = flesh_pool(rng, 80)
        greens = tuple(option((L, -22.0, 18.0), f"green {i}") for i, L in enumerate(rng.uniform(25, 85, 25)))
        plan = make_plan(replace(pool, options=pool.options + greens), None, 6, 3.0, 8.0)
        assert not any(step.run.name.startswith("green") for step in plan.steps if step.run)

    def test_hardly_changes_under_small_noise(self):
        # ΔE00 about 0.15: a tenth of what a reading is off by.
        rng = np.random.default_rng(1)
        pool = flesh_pool(rng, 90)
        first = make_plan(pool, None, 6, 3.0, 8.0)
        moved, off = [], []
        for _ in range(10):
            noisy = tuple(option(o.lab + rng.normal(0, 0.1, 3), o.name) for o in pool.options)
            again = make_plan(Pool(noisy, 0), None, 6, 3.0, 8.0)
            for a, b in zip(first.steps, again.steps, strict=True):
                moved.append(a.run.name != b.run.name)
                off.append(float(delta_e_2000(a.run.lab, b.run.lab)))
        assert np.mean(moved) <= 0.2
        assert np.median(off) < 0.3

    def test_gaps_are_told_and_filled_only_by_a_model(self, pool, palette):
        lost = Pool(tuple(o for o in pool.options if not 5.4 < o.value < 6.6), 0)
        bare = make_plan(lost, None, 6, 3.0, 8.0).steps[3]
        assert any("gap" in remark for remark in bare.remarks)
        filled = make_plan(lost, palette, 6, 3.0, 8.0).steps[3]
        assert filled.run.kind == "predicted"
        assert abs(filled.run.value - 6.0) <= TOLERANCE
        assert any("was never painted" in remark for remark in filled.remarks)

    def test_predictions_use_the_tubes_allowed(self, pool, palette):
        allowed = ("titanium white", "yellow ochre", "red ochre", "ivory black")
        few = Pool(tuple(o for o in pool.options if set(o.tubes) <= set(allowed)), 0)
        plan = make_plan(few, palette, 5, 3.0, 8.0, allowed)
        for step in plan.steps:
            for o in (step.run, step.warmer, step.cooler):
                assert o is None or set(o.tubes) <= set(allowed)

    def test_doubled_and_chalky_swatches_are_named(self):
        pool = flesh_pool(np.random.default_rng(0), 60)
        plan = make_plan(pool, None, 5, 3.0, 8.0)
        twin = option(plan.steps[2].run.lab + 0.1, "the twin")
        chalky = option((70.0, 2.0, 2.0), "the chalky one", chalky=True)
        again = make_plan(Pool((*pool.options, twin, chalky), 3), None, 5, 3.0, 8.0)
        told = " ".join(again.remarks)
        assert "the twin" in told
        assert "the chalky one" in told
        assert "3 swatches were left out for want of a clear recipe" in told
        alone = make_plan(Pool(pool.options, 1), None, 5, 3.0, 8.0)
        assert "1 swatch was left out for want of a clear recipe" in " ".join(alone.remarks)

    def test_each_remark_on_the_records_is_made_once(self):
        """A swatch that serves in several places, and twins that both serve, are one thing to say."""
        labs = [(30.0, 8.0, 10.0), (49.5, 12.0, 16.0), (50.1, 12.0, 16.0), (75.0, 10.0, 14.0)]
        pool = Pool(tuple(option(lab, f"s{i}", chalky=i in {1, 2}) for i, lab in enumerate(labs)), 0)
        plan = make_plan(pool, None, 12, 4.7, 5.1)
        served = [o.name for s in plan.steps for o in (s.cooler, s.run, s.warmer) if o is not None]
        assert max(map(served.count, served)) > 1
        assert {"s1", "s2"} <= set(served)
        assert sum("doubled" in remark for remark in plan.remarks) == 1
        assert not any("chalky on their cards" in remark for remark in plan.remarks)  # their steps say it
        assert any("s1 is chalky" in remark for step in plan.steps for remark in step.remarks)

    def test_nonsense_is_refused(self, pool):
        with pytest.raises(UsageError):
            make_plan(pool, None, 6, 8.0, 3.0)
        with pytest.raises(UsageError):
            make_plan(pool, None, 1)
        with pytest.raises(NoRecipesError):
            make_plan(Pool(pool.options[:2], 7), None)


class TestWords:
    def test_what_counts_once_or_not_at_all_is_counted(self):
        pool = flesh_pool(np.random.default_rng(2))
        assert not any("later" in remark or "left out" in remark for remark in plan_remarks(pool, []))
        said = plan_remarks(replace(pool, earlier=1, doubtful=3, without_recipe=2), [])
        assert "1 swatch was read again later, and the later reading counts" in said
        assert any(remark.startswith("2 swatches were left out for want of a clear recipe") for remark in said)
        assert any(remark.startswith("3 swatches were left out because the colour is in doubt") for remark in said)

    def test_a_run_has_six_steps_unless_told_otherwise(self, palette):
        assert len(swatchread.plan(palette).steps) == 6
        assert len(swatchread.plan(palette, steps=4).steps) == 4

    def test_the_sheet_is_told_what_ink_cannot_show(self, palette):
        """Darker than L* 25 (common practice); a grey of any value lies inside what a screen shows."""
        steps = [
            PlanStep(k + 1, 5.0, option((L, 0.0, 0.0), "a"), None, None, ())
            for k, L in enumerate((15.0, 24.5, 25.5, 80.0))
        ]
        facts = plan_facts(Plan(tuple(steps), 1.0, ()), palette)
        assert [step["run"]["ink_shows_it"] for step in facts["steps"]] == [False, False, True, True]

    def test_alternatives_come_by_their_likeness_to_what_stands_there(self):
        """Beside a place that nothing fills, by value alone."""
        near, far, off = option((50.0, 12, 14), "near"), option((50.0, 22, 30), "far"), option((54.0, 12, 14), "off")
        pool, run = Pool((off, far, near), 0), option((50.0, 10, 14), "run")
        value = run.value
        taken = alternatives(pool, PlanStep(1, value, run, None, None, ()), "run")
        assert [one.name for one in taken] == ["near", "off", "far"]
        empty = alternatives(pool, PlanStep(1, value, None, None, None, ()), "run")
        assert [one.name for one in empty][2] == "off"


class TestGathering:
    def test_cards_called_alike_keep_their_own_colours(self):
        cards = [
            Card("Flesh", build_note([swatch_data(1, 1, (L, 10, 20), recipe=f"{parts} titanium white + 1 red ochre")]))
            for parts, L in ((1, 30), (2, 50), (3, 70))
        ]
        found = {o.recipe.split()[0]: o.lab[0] for o in gather_options(cards, load_tubes()).options}
        assert found == {"1": 30, "2": 50, "3": 70}

    def test_of_a_card_read_wet_and_dry_the_last_reading_counts(self):
        recipes = ("3 titanium white + 1 yellow ochre", "2 red ochre", "1 viridian + 1 titanium white")
        dry, wet = (
            build_note(
                [swatch_data(1 + i, 1, (darker + 20 * i, 10, 10), recipe=r) for i, r in enumerate(recipes)],
                seed=seed,
                photo={"taken": f"2026-03-0{day}T10:00:00"},
            )
            for seed, darker, day in ((2, 28, 9), (1, 30, 2))
        )
        pool = gather_options([Card("dry", dry), Card("wet", wet)], load_tubes())
        assert [o.name for o in pool.options] == ["dry r1c1", "dry r2c1", "dry r3c1"]
        assert pool.earlier == 3
        # A card without recipes before them changes nothing about which of the two is the later.
        old = build_note([swatch_data(1, 1, (90, 0, 0))], seed=3, photo={"taken": "2020-01-01T10:00:00"})
        pool = gather_options([Card("old", old), Card("dry", dry), Card("wet", wet)], load_tubes())
        assert [o.name for o in pool.options] == ["dry r1c1", "dry r2c1", "dry r3c1"]

    def test_what_was_read_with_warnings_is_known(self):
        warning = {"code": "blurred", "message": "The photo is blurred", "remedy": "Rest the elbows"}
        notes = [build_note([swatch_data(1, 1, (50 + k, 9, 9), recipe="1 red ochre")], seed=k) for k in range(2)]
        notes[1] = Note.model_validate({**notes[1].model_dump(), "warnings": [warning]})
        pool = gather_options([Card(f"card {k}", note) for k, note in enumerate(notes)], load_tubes())
        assert [(o.name, o.doubtful) for o in pool.options] == [("card 0 r1c1", False), ("card 1 r1c1", True)]

    def test_a_doubtful_colour_is_not_called_a_want_of_recipes(self):
        swatches = [
            swatch_data(1, 1, (40, 10, 20), recipe="1 titanium white", flags=("clipped",)),
            swatch_data(2, 1, (50, 10, 20), recipe="2 titanium white + 1 red ochre", flags=("shadow", "uneven")),
            swatch_data(3, 1, (60, 10, 20), flags=("clipped",)),
        ]
        pool = gather_options([Card("card 1", build_note(swatches))], load_tubes())
        assert (len(pool.options), pool.without_recipe, pool.doubtful) == (0, 1, 2)
        with pytest.raises(NoRecipesError, match="1 without a clear recipe, 2 with a colour in doubt: burnt out, "):
            make_plan(pool, None)


class TestCommand:
    def run(self, world, tmp_path, *words):
        files = []
        for i, note in enumerate(world.notes[:12]):
            note.save(tmp_path / f"{i}.note.json")
            files += ["--notes", str(tmp_path / f"{i}.note.json")]
        return CliRunner().invoke(app, ["plan", *files, *words], catch_exceptions=False)

    def test_json_and_sheet(self, world, tmp_path):
        sheet = tmp_path / "sheet.html"
        written = ("--sheet", str(sheet), "--json")
        result = self.run(
            world, tmp_path, *("--from", "3.5", "--to", "7.5", "--steps", "5", "--amount", "15 ml"), *written
        )
        facts = json.loads(result.stdout)
        assert [s["value"] for s in facts["steps"]] == pytest.approx([3.5, 4.5, 5.5, 6.5, 7.5])
        assert facts["care"][0] == CARE
        assert facts["hue"]["name"] == "orange"
        assert all("ml" in s["run"]["to_mix"] for s in facts["steps"])
        page = sheet.read_text(encoding="utf-8")
        assert page.startswith("<!doctype html>")
        for words in (
            CARE,
            "the recipe is the truth",
            *(s["run"][k] for s in facts["steps"] for k in ("recipe", "chip", "to_mix")),
        ):
            assert words in page

    def test_table_for_one_sitter(self, world, tmp_path):
        result = self.run(world, tmp_path, "--sitter", "k", "--steps", "4")
        assert result.exit_code == 0
        assert "Mix from dark to light" in result.stdout

    def test_an_unknown_sitter_names_the_known(self, world, tmp_path):
        with pytest.raises(UsageError, match="A, K, M"):
            self.run(world, tmp_path, "--sitter", "nobody")

    def test_an_empty_archive_speaks_of_no_sitter(self, tmp_path):
        with pytest.raises(UsageError) as caught:
            CliRunner().invoke(app, ["plan", "--archive", str(tmp_path / "a.sqlite")], catch_exceptions=False)
        assert "none is on file" in caught.value.why
        assert "swatchread read" in caught.value.remedy
        assert "--sitter" not in caught.value.remedy

    def test_an_unknown_number_speaks_of_numbers(self, world, tmp_path):
        with pytest.raises(UsageError) as caught:
            self.run(world, tmp_path, "--card", "77")
        assert "numbers" in caught.value.why
        assert "archive list" in caught.value.remedy
