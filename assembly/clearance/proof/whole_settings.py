"""What was found of a pair in a reduced machine, told in the settings of the whole one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assembly.clearance.narrow_phase.pair_result import PairResult, Region, Setting
from assembly.kinematics.mechanism import Mechanism, Submechanism


def in_whole_settings(result: PairResult, reduced: Submechanism, whole: Mechanism) -> PairResult:
    """``result`` of a search in ``reduced``, its error budget being told in settings of ``whole`` already.

    Other drives are at rest; of the region, whose cells span their whole ranges, they are in the middle.
    """

    def widened(setting: Setting) -> Setting:
        return tuple(reduced.widened(np.array(setting)).tolist())

    return replace(
        result,
        at=widened(result.at),
        region=result.region and _region(result.region, reduced, whole),
        overlap=result.overlap and replace(result.overlap, at=widened(result.overlap.at)),
        first_contacts=tuple(replace(one, at=widened(one.at)) for one in result.first_contacts),
    )


def _region(region: Region, reduced: Submechanism, whole: Mechanism) -> Region:
    ends = np.array([[drive.low, drive.high] for drive in whole.machine.drives.values()])
    middle, reach = ends.mean(axis=1), (ends[:, 1] - ends[:, 0]) / 2
    cells = (
        (reduced.widened(np.array(at), middle), reduced.widened(np.array(half), reach)) for at, half in region.cells
    )
    return Region(tuple((tuple(at.tolist()), tuple(half.tolist())) for at, half in cells), region.share)
