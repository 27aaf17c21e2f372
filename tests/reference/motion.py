"""Rest-to-rest moves under limits of speed, acceleration and jerk."""
import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Move:
    time: float
    peak_accel: float
    accel_time: float      # one acceleration phase, jerk parts included
    jerk_time: float       # one jerk part


def move(d, v, a, j=None):
    """Least rest-to-rest move; seven phases with a jerk limit, trapezoid or triangle without."""
    if d <= 0:
        return Move(0.0, 0.0, 0.0, 0.0)
    if j is None:
        if d >= v * v / a:
            return Move(d / v + v / a, a, v / a, 0.0)
        t = math.sqrt(d / a)
        return Move(2 * t, a, t, 0.0)
    if v * j > a * a:
        reach, peak, tj = v / a + a / j, a, a / j
    else:
        tj = math.sqrt(v / j)
        reach, peak = 2 * tj, j * tj
    if d >= v * reach:
        return Move(d / v + reach, peak, reach, tj)
    if d >= 2 * a ** 3 / j ** 2:
        vp = (-a * a / j + math.sqrt((a * a / j) ** 2 + 4 * a * d)) / 2
        return Move(2 * (vp / a + a / j), a, vp / a + a / j, a / j)
    tj = (d / (2 * j)) ** (1 / 3)
    return Move(4 * tj, j * tj, 2 * tj, tj)
