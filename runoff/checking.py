"""From a site to what should be looked at before anything is computed: the steps, in order.

Nothing here asks where water runs: it is quick, and may be done at the lot with the sheets in hand.
"""

from __future__ import annotations

from dataclasses import dataclass

from runoff.missing import Cost, Missing, missing_from
from runoff.site.model import Site
from runoff.terrain.build import build_terrain
from runoff.terrain.model import Hole, Suspect


@dataclass(frozen=True)
class Checked:
    """A site read and looked through.

    `suspects` are heights that their neighbors do not bear out, `missing` what is not said, ranked,
    `notices` what was taken for granted, `holes` ground of the lot that no height tells.
    """

    site: Site
    suspects: tuple[Suspect, ...]
    missing: tuple[Missing, ...]
    notices: tuple[str, ...]
    holes: tuple[Hole, ...] = ()

    @property
    def needs_attention(self) -> bool:
        """Whether a height is suspect, or something is missing that no assumption fills."""
        return bool(self.suspects) or any(one.cost < Cost.ASSUMED for one in self.missing)


def check(site: Site) -> Checked:
    """Look a site through: heights that stand out, and what is missing.

    Parameters
    ----------
    site : Site

    Returns
    -------
    Checked

    Raises
    ------
    InputError
        Where the ground cannot be made from what was written.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> checked = check(read_site(sample_folder() / "site.toml"))
    >>> len(checked.site.spot_heights) > 50
    True
    """
    terrain = build_terrain(site)
    missing = missing_from(site, terrain)
    notices = dict.fromkeys((*site.notices, *terrain.notices))
    return Checked(site, terrain.suspects, missing, tuple(notices), terrain.holes)
