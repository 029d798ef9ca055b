"""What a fault test found, and the bound that it allows to state."""

import json
import os
from dataclasses import asdict, dataclass

import pytest


@dataclass
class Figures:
    """`lost`: acknowledged and not stored. `half`: visible in part. `doubled`: stored twice. `wrong`: anything else."""

    fault: str
    tried: int = 0
    acknowledged: int = 0
    lost: int = 0
    half: int = 0
    doubled: int = 0
    wrong: int = 0
    seconds: float = 0.0
    note: str = ""

    @property
    def is_clean(self):
        return not (self.lost or self.half or self.doubled or self.wrong)

    def tell(self):
        """On the screen, and into the file that LABRECORDS_FIGURES names."""
        line = json.dumps(asdict(self) | {"seconds": round(self.seconds, 1), "bound_pct": bound(self.tried)})
        print(line)
        if named := os.environ.get("LABRECORDS_FIGURES"):
            with open(named, "a") as file:
                file.write(line + "\n")
        return self


def long(n):
    """Of a long run as it is meant to be, the share that LABRECORDS_FAULT_SHARE allows; figures say what was done."""
    return max(round(n * float(os.environ.get("LABRECORDS_FAULT_SHARE", "1"))), 1)


KILLS = [3, pytest.param(20, marks=pytest.mark.thorough), pytest.param(long(200), marks=pytest.mark.slow)]


def bound(n):
    """Upper 95 % bound [%] of a rate that was not seen in n tries: 100 (1 - 0.05^(1/n))."""
    return round(100 * (1 - 0.05 ** (1 / n)), 2) if n else 100.0
