"""From a site to its plan: what to build at each downspout, the steps in order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from runoff.data import plan_to_dict
from runoff.discharge.compare import compare_ways
from runoff.discharge.correction import Grounds
from runoff.discharge.ground import LotGround
from runoff.discharge.model import GradeCorrection, WaterToMove
from runoff.discharge.proof import Proof, prove
from runoff.discharge.ways import Recommendation
from runoff.foundation.model import WallRun
from runoff.inspection import Findings, Inspection, inspect_to_plan
from runoff.quantities import Shown
from runoff.roof.drainage import RoofDrainage, roof_drainage
from runoff.roof.takeoff import RunTakeOff, gutter_take_offs
from runoff.site.model import Site
from runoff.words.cautions import cautions_for
from runoff.words.gutters import assumption_words
from runoff.words.rains import drainage_basis, pit_rain_basis, storm_basis


@dataclass(frozen=True)
class Plan:
    """What to build on one lot.

    Parameters
    ----------
    findings : Findings
        The inspection that it answers.
    drainage : tuple of RoofDrainage
        Roof, gutter, outlet and leader of each downspout, and the weakest of them.
    take_offs : tuple of RunTakeOff
    recommendations : tuple of Recommendation, one a downspout
    grade : GradeCorrection or None
        The soil that the walls need whatever is built, with the stretches where it must not be
        placed; None where no wall fails in a way that soil corrects.
    walls_left : tuple of WallRun
        The runs of wall that fail for certain and that soil is no answer to.
    proof : Proof
        The storm run again with all that is recommended built.
    assumptions, cautions : tuple of str
    """

    findings: Findings
    drainage: tuple[RoofDrainage, ...]
    take_offs: tuple[RunTakeOff, ...]
    recommendations: tuple[Recommendation, ...]
    grade: GradeCorrection | None
    walls_left: tuple[WallRun, ...]
    proof: Proof
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def site(self) -> Site:
        """The site that it is for."""
        return self.findings.site

    @property
    def builds(self) -> bool:
        """Whether anything is to be built, soil at the walls included."""
        soil = self.grade is not None and any(len(wedge.cells) for wedge in self.grade.wedges)
        return soil or any(
            one.chosen.kind not in ("as it is", "refer") for one in self.recommendations
        )

    def to_dict(self) -> dict[str, Any]:
        """What ``--json`` writes: SI values, the unit in every key."""
        return plan_to_dict(self)


def plan(site: Site) -> Plan:
    """Say for every downspout what to build so that its water leaves for good.

    Raises
    ------
    InputError
        As `runoff.inspect`.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> found = plan(read_site(sample_folder() / "site.toml"))
    >>> len(found.recommendations)
    5
    """
    inspection = inspect_to_plan(site)
    ground = _ground_of(inspection)
    grounds = Grounds(ground)
    reached = {downspout.name for downspout in inspection.findings.site.downspouts}
    drainage = tuple(each for each in roof_drainage(site) if each.downspout in reached)
    recommendations = _recommendations(grounds, drainage)
    corrected, grade = grounds.as_far_as_it_goes()
    return Plan(
        findings=inspection.findings,
        drainage=drainage,
        take_offs=gutter_take_offs(site),
        recommendations=recommendations,
        grade=grade,
        walls_left=grounds.left_as_they_are(),
        proof=prove(ground, corrected, recommendations),
        assumptions=_assumptions(site, drainage),
        cautions=cautions_for(site.units),
    )


def _ground_of(inspection: Inspection) -> LotGround:
    findings = inspection.findings
    return LotGround(
        site=findings.site,
        flow=inspection.flow,
        run=inspection.run,
        depth=findings.standing_depth,
        spots=inspection.spots,
        safe_area=findings.at_the_wall.safe_area,
        walls=findings.at_the_wall.runs,
    )


def _recommendations(
    grounds: Grounds, drainage: tuple[RoofDrainage, ...]
) -> tuple[Recommendation, ...]:
    """One after another: a pit keeps away from the pits before it."""
    found: list[Recommendation] = []
    for downspout, each in zip(grounds.surveyed.site.downspouts, drainage, strict=True):
        designs = [before.chosen.design for before in found]
        found.append(compare_ways(grounds, downspout, _water(each), designs))
    return tuple(found)


def _water(each: RoofDrainage) -> WaterToMove:
    return WaterToMove(
        each.downspout,
        each.catchment.plan_area_m2,
        each.catchment.design_area_m2,
        each.gutter_flow_m3_per_s,
        each.line_flow_m3_per_s,
        each.storm_m3,
    )


def _assumptions(site: Site, drainage: tuple[RoofDrainage, ...]) -> tuple[str, ...]:
    """Everything that was taken and not given, with its basis."""
    rains = site.rains
    told = [
        f"Gutters and leaders: {drainage_basis(site, rains.gutter)}.",
        f"Buried lines: {drainage_basis(site, rains.line)}.",
        f"Ponding: {storm_basis(site)}.",
        f"Seepage pits: {pit_rain_basis(site)}.",
    ]
    for each in drainage:
        assumed = [assumption_words(Shown.of(site), one) for one in each.assumptions]
        told += [note for note in assumed if note not in told]
    return tuple(told)
