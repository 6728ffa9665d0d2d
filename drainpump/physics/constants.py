"""Constants of nature and of convention, in SI.

References
----------
.. [1] BIPM, "The International System of Units (SI)", 9th ed., 2019; standard gravity and the
   standard atmosphere as adopted by the 3rd CGPM (1901) and the 10th CGPM (1954).
"""

from __future__ import annotations

from typing import Final

#: Standard gravity, m/s² (32.174 ft/s²), 3rd CGPM 1901. True gravity strays from it by
#: up to 0.3 % with latitude, far below the doubt of any pump curve.
GRAVITY: Final = 9.80665

#: Standard atmosphere, Pa (14.696 psi), 10th CGPM 1954.
STANDARD_ATMOSPHERE: Final = 101325.0

#: The Celsius zero, K (SI brochure, section 2.3.1).
ZERO_CELSIUS: Final = 273.15
