"""Cross-cut: class from the share of the lattice that came off, and where the standard says it does not apply."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within

UPPER_PERCENT = (0.0, 5.0, 15.0, 35.0, 65.0)  # largest share lost of classes 0 to 4 [%]
LARGEST_THICKNESS_UM = 250.0
# Classes 0 to 3 were read in a manual that quotes the standard; 4 and 5 are from memory.
MEANINGS = (
    "no square detached, edges smooth",
    "small flakes at crossings, up to 5 %",
    "along edges or at crossings, above 5 to 15 %",
    "partly in ribbons or whole squares, above 15 to 35 %",
    "in large ribbons, above 35 to 65 %",
    "worse than class 4",
)
TAPE_CLASSES = ("5B", "4B", "3B", "2B", "1B", "0B")  # of the tape test with the same lattice
FROM_MEMORY = 4  # this class and above


@dataclass(frozen=True, slots=True)
class CrossCut:
    """Cross-cut classes of the places of one coupon, with what the standard does not cover."""

    classes: tuple[int, ...]
    worst: int
    meaning: str  # of the worst class
    tape_class: str  # counterpart of the worst class in the tape test
    warnings: tuple[str, ...]

    @property
    def is_covered(self) -> bool:
        """Whether nothing speaks against using the standard on this coupon."""
        return not self.warnings


@formula(
    "class 0: 0 %; 1: ≤ 5 %; 2: ≤ 15 %; 3: ≤ 35 %; 4: ≤ 65 %; 5: more, of the lattice area",
    source="iso_2409",
    holds_when="smooth coating up to 250 µm, cut through to the substrate; not for textured coatings; no measure of "
    "adhesion strength",
)
def cross_cut_class(lost_percent: ArrayLike) -> int | np.ndarray:
    """Cross-cut class from the share of the lattice area that came off.

    Parameters
    ----------
    lost_percent : array_like
        Share lost [%], 0 to 100.

    Returns
    -------
    int or numpy.ndarray
        Class 0 (best) to 5 [-].

    Raises
    ------
    ValueError
        For a share out of range or NaN: a class has no gap.

    Source: `iso_2409`; classes 4 and 5 `from_memory`.

    >>> cross_cut_class([0, 5, 5.1, 35, 65, 66]).tolist()
    [0, 1, 2, 3, 4, 5]
    """
    lost = within("share of the lattice lost", lost_percent, "%", at_least=0, at_most=100, has_nan=False)
    found = np.searchsorted(UPPER_PERCENT, lost, side="left")
    return int(found) if np.ndim(found) == 0 else found


@formula(
    "class of the coupon = worst class of its places",
    source="iso_2409",
    holds_when="smooth coating up to 250 µm, cut through to the substrate; not for textured coatings; no measure of "
    "adhesion strength",
)
def cross_cut(
    lost_percent: ArrayLike,
    *,
    is_textured: bool,
    is_infused: bool = False,
    thickness_um: float | None = None,
    reached_substrate: bool = True,
) -> CrossCut:
    """Classes of the places of one coupon, with a warning wherever the standard excludes it.

    Parameters
    ----------
    lost_percent : array_like
        Share of the lattice lost at each place [%], 0 to 100.
    is_textured, is_infused : bool
        What the coupon is; the standard excludes textured coatings.
    thickness_um : float, optional
        Coating thickness [um], at least 0; above 250 the standard excludes it.
    reached_substrate : bool
        Whether every cut went through to the substrate; otherwise the test is invalid.

    Returns
    -------
    CrossCut
        Classes, the worst of them with its meaning, and warnings to print as deviations.

    Raises
    ------
    ValueError
        For no place, a share out of range, or NaN.

    Source: `iso_2409`.

    >>> cross_cut([0, 4], is_textured=True).warnings[0]
    'the standard excludes textured coatings'
    """
    classes = np.atleast_1d(cross_cut_class(lost_percent)).ravel()
    if classes.size == 0:
        raise ValueError("at least one place is needed")
    if thickness_um is not None:
        within("coating thickness", thickness_um, "um", at_least=0, has_nan=False)
    worst = int(classes.max())
    warnings = {
        "the standard excludes textured coatings": is_textured,
        "lubricant keeps the tape from sticking: the class says nothing of the coating": is_infused,
        "the standard excludes coatings above 250 µm": thickness_um is not None and thickness_um > LARGEST_THICKNESS_UM,
        "a cut did not reach the substrate: the test is invalid": not reached_substrate,
        # from memory
        "places differ by more than one class: test three more places and report all": np.ptp(classes) > 1,
    }
    said = tuple(text for text, holds in warnings.items() if holds)
    return CrossCut(tuple(classes.tolist()), worst, MEANINGS[worst], TAPE_CLASSES[worst], said)
