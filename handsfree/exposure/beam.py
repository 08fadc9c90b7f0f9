"""Dose at beam centre, tilt and distance, and how many positions a round limb asks for.

Sources: radiant exposure H = ∫E dt and the distance law with cos θ, IEC 60050-845 / CIE S 017 (e-ILV 17-25-104).
Irradiance over distance is only ever interpolated between measured points: a cure light at a hand's breadth is in its
near field, where the inverse square does not hold.
"""

from bisect import bisect_left
from dataclasses import dataclass
from math import acos, ceil, cos, degrees, exp, isfinite, log, pi, radians, sqrt

from handsfree.exposure.profiles import LightProfile, require_positive
from handsfree.exposure.units import Irradiance, Length

HALF = 0.5


def irradiance_at(light: LightProfile, distance: Length) -> Irradiance:
    """Irradiance at beam centre from the measured table, linear in its logarithm between points.

    Raises:
        ValueError: The distance is outside the table; nothing is extrapolated.
    """
    table = light.irradiance_table
    nearest_cm, farthest_cm = table[0][0], table[-1][0]
    if not nearest_cm <= distance.cm <= farthest_cm:
        raise ValueError(
            f"light {light.id} was measured from {nearest_cm:g} to {farthest_cm:g} cm; {distance.cm:g} cm is outside"
        )
    index = max(1, bisect_left(table, distance.cm, key=lambda point: point[0]))
    (near_cm, near), (far_cm, far) = table[index - 1], table[index]
    share = (distance.cm - near_cm) / (far_cm - near_cm)
    return Irradiance.of_mw_cm2(exp((1 - share) * log(near) + share * log(far)))


def dose_j_cm2(irradiance: Irradiance, seconds: float, tilt_deg: float = 0.0) -> float:
    """Light-on exposure at beam centre in J/cm².

    Args:
        irradiance: On a surface square to the beam.
        seconds: Light-on time, 0 or more.
        tilt_deg: Stated angle between beam and the surface's normal, 0 up to below 90 degrees.

    Raises:
        ValueError: Time or tilt out of range.
    """
    if not isfinite(seconds) or seconds < 0:
        raise ValueError(f"light-on time is {seconds} s; it must be 0 or more")
    return irradiance.mw_cm2 / 1000 * seconds * tilt_factor(tilt_deg)


def tilt_factor(tilt_deg: float) -> float:
    """Cosine of the angle between beam and surface normal.

    Raises:
        ValueError: The tilt is not from 0 to below 90 degrees.
    """
    if not 0 <= tilt_deg < 90:
        raise ValueError(f"tilt is {tilt_deg} degrees; it must be from 0 to below 90")
    return cos(radians(tilt_deg))


def inverse_square_ratio(from_distance: Length, to_distance: Length) -> float:
    """E(to)/E(from) of a point source. Only for saying how far off it would be: cure lights are not points.

    Source: distance law, e-ILV 17-25-104.
    """
    return (from_distance.cm / to_distance.cm) ** 2


def disc_ratio(radius: Length, distance: Length) -> float:
    """E(z)/E(0) on the axis of an evenly bright matt disc: R²/(R²+z²), from e-ILV 17-25-104."""
    return radius.cm**2 / (radius.cm**2 + distance.cm**2)


def inverse_square_error(window: Length, distance: Length) -> float:
    """Share by which the inverse square from far away overstates E at this distance, for an evenly bright matt disc.

    Args:
        window: Diameter of the disc.
        distance: From the disc, on its axis.

    Source: five-times rule of the IES: within 1 % from five diameters on.
    """
    return (window.cm / 2 / distance.cm) ** 2


def far_field_from(window: Length) -> Length:
    """Distance from which the inverse square is within 1 %: five times the largest dimension of the window (IES)."""
    return Length.of_cm(5 * window.cm)


def late_stop_share(spot_s: float, late_s: float = 0.5) -> float:
    """Part of a spot's seconds that a stop said this much too late adds.

    Raises:
        ValueError: A time is not above 0.
    """
    require_positive("spot_s", spot_s)
    require_positive("late_s", late_s)
    return late_s / spot_s


def misread_factors(light: LightProfile, stated: Length, by: Length) -> tuple[tuple[Length, float], ...]:
    """How the irradiance changes where the light is held nearer or farther than stated, by the measured table.

    Args:
        light: The light as measured.
        stated: Distance that is thought to be held.
        by: How far off the hand may be.

    Returns:
        Distance really held and E(held)/E(stated); only distances inside the table.
    """
    reference = irradiance_at(light, stated).mw_cm2
    low, high = light.irradiance_table[0][0], light.irradiance_table[-1][0]
    held = [cm for cm in (stated.cm - by.cm, stated.cm + by.cm) if max(low, 1e-6) <= cm <= high]
    return tuple((Length.of_cm(cm), irradiance_at(light, Length.of_cm(cm)).mw_cm2 / reference) for cm in held)


@dataclass(frozen=True, slots=True)
class RoundLimb:
    """A limb taken as a cylinder with a point-like light held over its crown.

    Attributes:
        circumference: Measured around the limb.
        distance: From the light to the crown.
    """

    circumference: Length
    distance: Length

    @property
    def radius_cm(self) -> float:
        """Radius in cm."""
        return self.circumference.cm / (2 * pi)

    @property
    def horizon_deg(self) -> float:
        """Angle from the crown beyond which no direct light falls, degrees."""
        return degrees(acos(self.radius_cm / (self.radius_cm + self.distance.cm)))

    def relative_irradiance(self, angle_deg: float) -> float:
        """Irradiance at an angle from the crown as a share of that at the crown, 0 beyond the horizon.

        Source: E/E₀ = cos θ · d²/s², e-ILV 17-25-104.
        """
        radius_cm, distance_cm = self.radius_cm, self.distance.cm
        centre_cm = radius_cm + distance_cm
        turn = cos(radians(angle_deg))
        path_cm = sqrt(radius_cm**2 + centre_cm**2 - 2 * radius_cm * centre_cm * turn)
        return max(0.0, (centre_cm * turn - radius_cm) / path_cm) * (distance_cm / path_cm) ** 2

    @property
    def half_dose_deg(self) -> float:
        """Angle from the crown at which half of the crown's irradiance falls, degrees."""
        low, high = 0.0, self.horizon_deg
        for _ in range(60):
            middle = (low + high) / 2
            if self.relative_irradiance(middle) >= HALF:
                low = middle
            else:
                high = middle
        return low

    @property
    def half_dose_arc_cm(self) -> float:
        """Arc over which at least half falls, both sides together, cm."""
        return 2 * radians(self.half_dose_deg) * self.radius_cm

    def stations(self, arc: Length | None = None) -> int:
        """Positions around the limb so that no point gets under half of one position's peak.

        Args:
            arc: The part of the circumference to be lit; all of it when None.

        Raises:
            ValueError: The arc is longer than the circumference.
        """
        to_light_cm = self.circumference.cm if arc is None else arc.cm
        if to_light_cm > self.circumference.cm:
            raise ValueError(f"arc {to_light_cm:g} cm is longer than the circumference {self.circumference.cm:g} cm")
        return ceil(to_light_cm / self.half_dose_arc_cm - 1e-9)
