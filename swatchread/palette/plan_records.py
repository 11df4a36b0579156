"""The plan of a palette as records."""

from __future__ import annotations

from dataclasses import dataclass, replace

from swatchread.palette.hue_family import HueFamily
from swatchread.palette.plan_options import Option
from swatchread.palette.portions import InAll, parse_in_all
from swatchread.palette.step_choice import Chosen


@dataclass(frozen=True, eq=False)
class PlanStep:
    """One step of the run.

    Attributes
    ----------
    number : int
        From 1, the darkest: the order of mixing.
    value : float
        Munsell value wanted.
    run, warmer, cooler : Option or None
        The mixture of the run, and its warmer and cooler alternatives; None if there is none.
    remarks : tuple of str
    """

    number: int
    value: float
    run: Option | None
    warmer: Option | None
    cooler: Option | None
    remarks: tuple[str, ...]

    @property
    def options(self) -> Chosen:
        """The mixtures in the order of `ROLES`: run, warmer, cooler."""
        return self.run, self.warmer, self.cooler

    def for_amount(self, in_all: InAll) -> PlanStep:
        """Return the same step with what each tube comes to for an amount of each mixture."""
        run, warmer, cooler = (option and option.for_amount(in_all) for option in self.options)
        return replace(self, run=run, warmer=warmer, cooler=cooler)


@dataclass(frozen=True, eq=False)
class Plan:
    """The palette for a sitting.

    Attributes
    ----------
    steps : tuple of PlanStep
    spacing : float
        Munsell value between steps.
    family : HueFamily or None
        The family of hue that the run keeps to; None if any hue will do.
    remarks : tuple of str
        About the recorded swatches as a whole.
    in_all : InAll or None
        How much of each mixture is wanted; None if only parts are.
    """

    steps: tuple[PlanStep, ...]
    spacing: float
    remarks: tuple[str, ...]
    family: HueFamily | None = None
    in_all: InAll | None = None

    def for_amount(self, amount: str) -> Plan:
        """Return the same plan with what each tube comes to for an amount of each mixture, as "15 ml".

        Raises
        ------
        UsageError
            If it is no amount.
        """
        in_all = parse_in_all(amount)
        if in_all is None:
            return self
        return replace(self, in_all=in_all, steps=tuple(step.for_amount(in_all) for step in self.steps))
