"""What each tip of a straightened row shows: wet or dry, and whether it is to be seen at all.

A small network, the judge, compares every tip with its own shank, with its neighbours and with the two end tabs, which show what this
paint looks like on this gauge in this light. Where it is not sure at once, it looks at the mirror image of the strip, too, and, where that
leaves a doubt, again at the strip cut a little shorter. Where the looks differ, the tip is doubtful.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from lastwet.reading import networks
from lastwet.reading.middle import median
from lastwet.reading.strip import ELEMENT_PX, STRIP_HEIGHT_PX, TIP_ROW, normalise, roles

Floats = npt.NDArray[np.float64]
Strip = npt.NDArray[np.uint8]

CLIPPED = 250
"""Channel value from which a pixel counts as burnt out."""
PLAIN = 7.0
"""Log odds, in one look, from which no other look is needed. Of 1,007 rows of seeds 3997-4282, 5197-5516, 5700-6019 and the corpus 619 are
so plain at every tip. The mirror image says otherwise of none of those: it is sure of one tip by 3.7 there, and of all others by more."""
JUDGE = "wet"
"""The judge's network."""
BEYOND_DOUBT = 4.0
"""Log odds, in every look, from which a tip is in no doubt. Of 1,589 rows of seeds 3357-5116 and the corpus 1,202 are in no doubt at any
tip, and none of those would be read otherwise for being looked at again."""
SOFTNESS_OFFSET = 0.02
"""Added to the softness before its logarithm was learned."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the N+2 elements of a row show, in the order of the strip."""

    looks: Floats
    """Log odds of wet in each look, shape (L, N+2)."""
    again: Floats
    """The same in each look at the strip cut anew, shape (L, N+2); (0, N+2) where there was no need of them."""
    seen: Floats
    """Probability that a whole tip of the stated kind (end tab, tooth) is to be seen there, shape (N+2,)."""
    burnt: Floats
    """Share of burnt-out pixels about each tip, shape (N+2,)."""
    softness: float
    """Blur in tooth widths."""
    level: float
    """Mean brightness of the strip, 0..1."""
    contrast: float
    """Spread of the strip's brightness, 0..1."""

    @property
    def every(self) -> Floats:
        """Log odds of wet in each look at either strip, shape (L, N+2)."""
        return np.concatenate([self.looks, self.again])

    @property
    def log_odds(self) -> Floats:
        """Mean log odds of wet over the looks, shape (N+2,)."""
        return np.asarray(self.looks.mean(axis=0))

    @property
    def beyond_doubt(self) -> bool:
        """Whether every look is sure of every element, and all say the same."""
        return bool(agreed(self.looks, BEYOND_DOUBT).all())


@dataclass(frozen=True, slots=True, eq=False)
class Glance:
    """One look at a strip."""

    strip: Strip
    says: Floats
    """What the network says of each element, shape (3, N+2): log odds of wet and of being seen, log of the blur."""

    @property
    def dipped(self) -> float:
        """How far this looks like a whole row with wet end tabs, 0..1."""
        wet, seen = 1 / (1 + np.exp(-np.clip(self.says[:2], -30, 30)))
        ends = wet[[0, -1]]
        return float(ends.mean() * ends.max() * np.sort(seen)[: max(1, len(seen) // 3)].mean())


def agreed(looks: Floats, least: float) -> npt.NDArray[np.bool_]:
    """Tell which elements every look calls wet, or every look dry, with log odds of `least` or more, shape (N+2,)."""
    return np.asarray((looks >= least).all(axis=0) | (looks <= -least).all(axis=0))


def glance(strips: list[Strip]) -> list[Glance]:
    """Look once at each of several strips (CUT_HEIGHT_PX, ELEMENT_PX * (N+2), 3)."""
    return [Glance(strip, _look(strip)) for strip in strips]  # one by one: all at once is no faster and takes more memory


def judge(strip: Strip) -> Evidence:
    """Judge a strip and its mirror image."""
    return _told(strip, [_look(strip), _mirrored(strip)])


def judge_on(first: Glance) -> Evidence:
    """Judge a strip that was glanced at: by that glance alone where it is sure of all it sees, else by a look at its mirror image, too."""
    plain = bool((np.abs(first.says[0]) >= PLAIN).all())
    return _told(first.strip, [first.says] if plain else [first.says, _mirrored(first.strip)])


def _told(strip: Strip, looks: list[Floats]) -> Evidence:
    """Put together what looks at a strip and its mirror image say."""
    out = np.array(looks)
    grey = strip[:STRIP_HEIGHT_PX] @ np.full(3, 1 / (3 * 255))  # `mean(axis=2)` takes twelve times as long
    soft = float(np.exp(median(out[:, 2].ravel()))) - SOFTNESS_OFFSET
    seen = 1 / (1 + np.exp(-np.clip(out[:, 1].mean(axis=0), -30, 30)))
    burnt = _burnt(strip, out.shape[2])
    no_more = np.zeros((0, out.shape[2]))
    return Evidence(out[:, 0], no_more, seen, burnt, max(soft, 0.0), float(grey.mean()), float(grey.std()))


def judge_again(evidence: Evidence, again: Strip) -> Evidence:
    """Judge the same row once more, cut anew, either way round."""
    return replace(evidence, again=np.array([_look(again)[0], _mirrored(again)[0]]))


def _look(strip: Strip) -> Floats:
    """Return what the judge says of each element, shape (3, N+2)."""
    count = strip.shape[1] // ELEMENT_PX
    picture = np.concatenate([normalise(strip, STRIP_HEIGHT_PX).transpose(2, 0, 1), roles(count)[None]])
    return np.asarray(networks.run(JUDGE, "elements", picture[None])[0, :, 0], np.float64)


def _mirrored(strip: Strip) -> Floats:
    return _look(strip[:, ::-1])[:, ::-1]


def _burnt(strip: npt.NDArray[np.uint8], count: int) -> Floats:
    """Share of burnt-out pixels in the lower third of each tooth."""
    part = strip[TIP_ROW - ELEMENT_PX // 3 : TIP_ROW + 2] >= CLIPPED
    cells = part.all(axis=2).reshape(part.shape[0], count, ELEMENT_PX)
    middle = cells[:, :, ELEMENT_PX // 5 : -(ELEMENT_PX // 5)]
    return np.asarray(middle.mean(axis=(0, 2)), np.float64)
